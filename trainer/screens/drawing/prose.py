"""Text in lines that fit a width: plain words, the lesson's CommonMark, and the explain pane.

CommonMark is read for its structure only: links show their text and, after it, where they would lead; HTML, markup and
escape sequences show literally.
"""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.cells import cell_len

from trainer.music.printable import printable
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder, plain_row

if TYPE_CHECKING:
    from markdown_it.token import Token

    from trainer.screens.explained import Topic

InkedText = tuple[str, str]
"""A text and its ink."""


def wrapped(text: str, width: int) -> list[str]:
    """Wrap a plain text into lines of a width."""
    return [row.text.rstrip() for row in wrap([(text, ink.PLAIN)], width, 0, "")]


def wrap(spans: Sequence[InkedText], width: int, indent: int, before: str) -> list[CellRow]:
    """Wrap some spans into rows, with a list's mark before the first; a word longer than a line is cut."""
    room = max(1, width - indent)
    lines: list[list[InkedText]] = [[]]
    used = 0
    for text, kind in spans:
        for word in _words(printable(text)):
            blank = word[0] == " "
            if used and used + cell_len(word) > room and not blank:
                lines.append([])
                used = 0
            if blank and not used:
                continue
            first, *more = [word] if blank else _pieces(word, room)
            lines[-1].append((first, kind))
            used += cell_len(first)
            for piece in more:
                lines.append([(piece, kind)])
                used = cell_len(piece)
    rows = []
    for number, line in enumerate(lines):
        builder = RowBuilder(width)
        if number == 0 and before:
            builder.put(max(0, indent - len(before) - 1), before, ink.QUIET)
        x = indent
        for text, kind in line:
            x = builder.put(x, text, kind)
        rows.append(builder.row())
    return rows


def _pieces(word: str, room: int) -> list[str]:
    """Cut a word into pieces that fit a line; a character wider than the line gets a line of its own."""
    begins, used = [0], 0
    for number, char in enumerate(word):
        cells = cell_len(char)
        if used and used + cells > room:
            begins.append(number)
            used = 0
        used += cells
    return [word[begin:end] for begin, end in zip(begins, [*begins[1:], None], strict=True)]


def _words(text: str) -> list[str]:
    """Split a text into words and the runs of spaces between them; only plain spaces separate words."""
    return re.findall(r" +|[^ ]+", text)


# -- the lesson ----------------------------------------------------------------------------------------------------


def prose_rows(text: str, width: int) -> tuple[CellRow, ...]:
    """Draw some CommonMark.

    Args:
        text: from an exercise file.
        width: cells of a line.
    """
    from markdown_it import MarkdownIt

    page = _Page(width)
    for token in MarkdownIt("commonmark").parse(text):
        page.take(token)
    while page.rows and not page.rows[-1].text.strip():
        page.rows.pop()
    return tuple(page.rows)


class _Page:
    """Draws token by token, keeping track of how deep lists and quotes are."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.rows: list[CellRow] = []
        self._indent = 0
        self._before = ""
        self._kind = ink.PLAIN
        self._numbers: list[int | None] = []

    def take(self, token: "Token") -> None:
        """Take the next token of the text."""
        if token.type in ("bullet_list_open", "ordered_list_open"):
            self._numbers.append(int(token.attrGet("start") or 1) if token.type.startswith("ordered") else None)
        elif token.type in ("bullet_list_close", "ordered_list_close"):
            self._numbers.pop()
        elif token.type == "list_item_open":
            number = self._numbers[-1]
            self._before = "-" if number is None else f"{number}."
            self._numbers[-1] = None if number is None else number + 1
        self._indent += _INDENTS.get(token.type, 0)
        self._kind = {"heading_open": ink.HEAD, "heading_close": ink.PLAIN}.get(token.type, self._kind)
        if token.type == "inline":
            self.rows += wrap(_inline(token.children or [], self._kind), self.width, self._indent, self._before)
            self._before = ""
        elif token.type in ("fence", "code_block", "html_block"):
            for line in token.content.rstrip("\n").split("\n"):
                self.rows += wrap([(line, ink.QUIET)], self.width, self._indent + 2, "")
        if token.type in ("inline", "fence", "code_block", "html_block", "hr"):
            self.rows.append(RowBuilder(self.width).row())


_INDENTS = {"bullet_list_open": 3, "ordered_list_open": 3, "blockquote_open": 2}
_INDENTS |= {name.replace("open", "close"): -cells for name, cells in _INDENTS.items()}


def _inline(children: "Sequence[Token]", kind: str) -> list[InkedText]:
    spans: list[InkedText] = []
    strong = 0
    links: list[str] = []
    for child in children:
        now = ink.STRONG if strong and kind == ink.PLAIN else kind
        if child.type in ("strong_open", "em_open"):
            strong += 1
        elif child.type in ("strong_close", "em_close"):
            strong -= 1
        elif child.type in ("softbreak", "hardbreak"):
            spans.append((" ", now))
        elif child.type == "link_open":
            links.append(str(child.attrGet("href") or ""))
        elif child.type == "link_close":
            spans.append((f" ({links.pop()})", ink.QUIET))
        elif child.type == "image":
            spans.append((child.content, now))
        else:
            spans.append((child.content, now))
    return spans


# -- the explain pane ----------------------------------------------------------------------------------------------

INDENT = 2
"""Cells before a sentence's second line."""


def explanation_rows(told: "Sequence[Topic]", width: int) -> tuple[CellRow, ...]:
    """Draw an explanation: headings, and below each its sentences.

    Args:
        told: headings with their sentences, in plain text: nothing in them is markup.
        width: cells of a line.
    """
    rows: list[CellRow] = []
    for group in told:
        if rows:
            rows.append(RowBuilder(width).row())
        rows += [plain_row(line, width, ink.HEAD) for line in wrapped(group.heading, width)]
        for sentence in group.sentences:
            rows += _hanging(sentence, width)
    return tuple(rows)


def _hanging(text: str, width: int) -> list[CellRow]:
    """Draw a text with all lines but the first indented."""
    lines = wrapped(text, max(1, width - INDENT))
    rows = []
    for number, line in enumerate(lines):
        builder = RowBuilder(width)
        builder.put(INDENT if number else 0, line, ink.PLAIN)
        rows.append(builder.row())
    return rows
