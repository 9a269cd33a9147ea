"""The outline of an exercise file: front matter, prose, riffs and their blocks, each with the line it stands on.

Block structure is CommonMark 0.31 as markdown-it-py reads it; the front matter stands between two `+++` lines.
"""

import re
from dataclasses import dataclass, field

from trainer.music.problem import ProblemsError, nearest
from trainer.notation.report import Report

_FRONT = re.compile(r"\+\+\+[^\S\n]*\n(.*?)(?:(?<=\n)|^)[^\S\n]*\+\+\+[^\S\n]*$", re.MULTILINE | re.DOTALL)
"""A file's front matter: what stands between its first line and the next one, which are both `+++`."""
_LINE_END = re.compile(r"\r\n|\n|\r")
_NO_HEADING = re.compile(r" {0,3}##[^#\s]")
_COUNT_ROW = re.compile(r"^[ \t]*count[ \t]*\|", re.MULTILINE | re.IGNORECASE)
_PART = re.compile(r"guitar|bass|drum|lead|rhythm", re.IGNORECASE)
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
    sound: bool = True
    """False where a block is not closed, or does not say what it is."""


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


def with_lines_of(text: str, original: str) -> str:
    """A text of line feeds with the line ends and the byte order mark that another text has.

    A text whose line ends differ among themselves gets those of its first line.
    """
    end = _LINE_END.search(original)
    mark = "\ufeff" if original.startswith("\ufeff") else ""
    return mark + text.replace("\n", end[0] if end else "\n")


def outline(text: str, report: Report) -> Document:
    """Take a file apart. `text` has been through `normal_lines`."""
    found = front_matter(text)
    if found is None:
        if text.partition("\n")[0].strip() == "+++":
            hint = "Write a second line +++ after the last key"
            report.add(1, 1, "the front matter that begins here is not closed", hint=hint)
        else:
            hint = "Begin the file with a line +++, then title, key and tempo, then a line +++"
            report.add(1, 1, "the front matter is missing", hint=hint)
        raise ProblemsError(report.problems)
    front, skipped = found
    document = Document(front=front, front_line=2)
    lines = text.split("\n")[skipped:]
    _Outliner(document, lines, skipped, report).run("\n".join(lines))
    return document


def _closes(line: str, markup: str, lines: int) -> bool:
    """Whether a fence's last line is its closing one."""
    bare = line.strip()
    return lines > 0 and len(bare) >= len(markup) and not bare.strip(markup[0])


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
                if not token.level and not _closes(self.lines[last - 1], token.markup, last - 1 - first):
                    self._unclosed(token.info, token.markup, first)
                else:
                    self._fence(token.info, token.content, first, last, token.level)
            elif token.type in ("paragraph_open", "code_block"):
                self._check_prose(first, last)
        self._end_prose(len(self.lines))

    def _end_prose(self, until: int) -> None:
        piece = "\n".join(self.lines[self.prose_from : until]).strip("\n")
        if piece.strip():
            self.prose.append(piece)

    def _unclosed(self, info: str, markup: str, first: int) -> None:
        name = " ".join(info.split()) or "text"
        what = f"this block ({name}) is not closed before the file ends"
        self._broken(self.skipped + first + 1, what, f"Write a line {markup} after its last row")

    def _broken(self, line: int, what: str, hint: str) -> None:
        self.report.add(line, 1, what, hint=hint)
        for section in self.document.sections[-1:]:
            section.sound = False

    def _check_prose(self, first: int, last: int) -> None:
        """What is meant as a heading or a tab must not pass for prose unseen."""
        for number, line in enumerate(self.lines[first:last], self.skipped + first + 1):
            if _NO_HEADING.match(line):
                name = line.strip("# ")
                self.report.add(number, 3, "a riff's heading lacks the space after ##", hint=f"Write ## {name}")
            elif _COUNT_ROW.match(line):
                hint = "Write a line ```tab guitar 1 before it and a line ``` after its last row"
                self._broken(number, "a row of a tab stands outside a block", hint)
                return

    def _fence(self, info: str, content: str, first: int, last: int, level: int) -> None:
        kind, _, part = " ".join(info.split()).partition(" ")
        line = self.skipped + first + 1
        if kind not in KINDS:
            meant = nearest(kind, KINDS) if kind else ""
            if not meant and (not kind or _PART.match(kind)) and _COUNT_ROW.search(content):
                name = " ".join(info.split()) or "guitar 1"
                self._broken(line, "this block of tab does not say that it is one", f"Write ```tab {name}")
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
