"""The outline of an exercise file: front matter, prose, riffs and their blocks, each with the line it stands on.

Block structure is CommonMark 0.31 as markdown-it-py reads it; the front matter stands between two `+++` lines.
"""

import re
from dataclasses import dataclass, field

from trainer.music.problem import nearest
from trainer.notation.report import Report

_FRONT = re.compile(r"\+\+\+[^\S\n]*\n(.*?)(?:(?<=\n)|^)[^\S\n]*\+\+\+[^\S\n]*$", re.MULTILINE | re.DOTALL)
"""A file's front matter: what stands between its first line and the next one, which are both `+++`."""
KINDS = ("riff", "tab", "harmony")
"""Words that begin the info string of a block we read; anything else fenced is the author's prose."""


@dataclass(slots=True)
class Block:
    """A fenced block."""

    kind: str
    """One of `KINDS`."""
    part: str
    """The rest of the info string: the part's name."""
    line: int
    """The line of the opening fence, counted from 1; the content begins on the next."""
    content: str
    indent: int = 0
    """Characters before the fence."""


@dataclass(slots=True)
class Section:
    """A `##` heading and what follows it."""

    name: str
    line: int
    blocks: list[Block] = field(default_factory=list)
    prose: list[str] = field(default_factory=list)
    """Pieces of prose between the blocks."""


@dataclass(slots=True)
class Document:
    """A file taken apart."""

    front: str = ""
    """TOML between the `+++` lines."""
    front_line: int = 1
    """The line the front matter's first line stands on."""
    prose: list[str] = field(default_factory=list)
    sections: list[Section] = field(default_factory=list)


def front_matter(text: str) -> tuple[str, int] | None:
    """The TOML between the `+++` lines and the number of lines up to the closing one, or None where there is none."""
    found = _FRONT.match(text)
    return (found[1], found[0].count("\n") + 1) if found else None


def normal_lines(text: str) -> str:
    """The text with every line ending as a line feed and no byte order mark."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def outline(text: str, report: Report) -> Document:
    """Take a file apart. `text` has been through `normal_lines`."""
    found = front_matter(text)
    if found is None:
        report.add(
            1,
            1,
            "the front matter is missing",
            hint="Begin the file with a line +++, then title, key and tempo, then a line +++",
        )
        report.stop_if_any()
        raise AssertionError
    front, skipped = found
    document = Document(front=front, front_line=2)
    lines = text.split("\n")[skipped:]
    _Outliner(document, lines, skipped, report).run("\n".join(lines))
    return document


class _Outliner:
    """Walks CommonMark's top-level blocks and sorts them into sections."""

    def __init__(self, document: Document, lines: list[str], skipped: int, report: Report) -> None:
        self.document = document
        self.lines = lines
        self.skipped = skipped
        self.report = report
        self.prose_from = 0
        self.prose = document.prose

    def run(self, body: str) -> None:
        from markdown_it import MarkdownIt

        reader = MarkdownIt("commonmark")
        reader.core.ruler.disable(["inline", "text_join"])
        tokens = reader.parse(body)
        for i, token in enumerate(tokens):
            if token.map is None:
                continue
            first, last = token.map
            if token.type == "heading_open" and token.tag == "h2" and token.level == 0:
                self._end_prose(first)
                section = Section(" ".join(tokens[i + 1].content.split()), self.skipped + first + 1)
                self.document.sections.append(section)
                self.prose, self.prose_from = section.prose, last
            elif token.type == "fence":
                self._fence(token.info, token.content, first, last, token.level)
        self._end_prose(len(self.lines))

    def _end_prose(self, until: int) -> None:
        piece = "\n".join(self.lines[self.prose_from : until]).strip("\n")
        if piece.strip():
            self.prose.append(piece)

    def _fence(self, info: str, content: str, first: int, last: int, level: int) -> None:
        kind, _, part = " ".join(info.split()).partition(" ")
        line = self.skipped + first + 1
        if kind not in KINDS:
            meant = nearest(kind, KINDS) if kind else ""
            if meant:
                self.report.add(line, 4, f'a block "{kind}" is not known', ", ".join(KINDS), f'Did you mean "{meant}"')
            return
        if level:
            self.report.add(line, 0, f"a {kind} block inside a list or quotation", hint="Move it to the line's start")
            return
        if not self.document.sections:
            self.report.add(line, 0, f"a {kind} block stands before the first ## heading", hint="Name a riff first")
            return
        self._end_prose(first)
        raw = self.lines[first]
        block = Block(kind, part, line, content, len(raw) - len(raw.lstrip()))
        self.document.sections[-1].blocks.append(block)
        self.prose_from = last
