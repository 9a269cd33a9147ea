"""Words in lines that fit a width."""

from collections.abc import Sequence

from rich.cells import cell_len, set_cell_size

from trainer.music.printable import printable
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder

Span = tuple[str, str]
"""Text and its ink."""


def wrapped(text: str, width: int) -> list[str]:
    """A plain text in lines of a width."""
    return [row.text.rstrip() for row in wrap([(text, ink.PLAIN)], width, 0, "")]


def wrap(spans: Sequence[Span], width: int, indent: int, before: str) -> list[Row]:
    """Some spans as rows, with a list's mark before the first; a word longer than a line is cut into lines."""
    room = max(1, width - indent)
    lines: list[list[Span]] = [[]]
    used = 0
    for word, kind in ((word, kind) for text, kind in spans for word in _words(printable(text))):
        rest = word
        if used + cell_len(rest) > room and used and not rest.isspace():
            lines.append([])
            used = 0
        while cell_len(rest) > room > 1 and not rest.isspace():
            head = set_cell_size(rest, room).rstrip() if cell_len(rest[0]) <= room else rest[0]
            lines[-1].append((head, kind))
            lines.append([])
            rest = rest[len(head) :]
        if used or not rest.isspace():
            lines[-1].append((rest, kind))
            used += cell_len(rest)
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


def _words(text: str) -> list[str]:
    """The words of a text and the spaces between them."""
    words: list[str] = []
    for char in text:
        if words and (char == " ") == (words[-1][-1] == " "):
            words[-1] += char
        else:
            words.append(char)
    return words
