"""Drawn lines: cells with their inks, which themes turn into colours, and the zones in them that can be clicked."""

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from rich.cells import get_character_cell_size

from trainer.music.printable import printable

PLAIN, LINE, BAR, COUNT, FINE, MARK, LABEL, INTERVAL, CHORD, QUIET, STRONG, HEAD = " lbcfmnihqsx"
"""Inks by one letter: nothing special, a string's line, a bar line, a beat's number, the counts between, a mark
of articulation, a label, an interval's name, a chord's name, what stands back, what stands out, a riff's heading."""


class CellRow(NamedTuple):
    """One line of cells, ready to be shown."""

    chars: tuple[str, ...]
    """One for each cell; empty for the second cell of a wide character."""
    inks: str
    """A letter for each cell: its ink."""

    @property
    def text(self) -> str:
        """The text of the cells."""
        return "".join(self.chars)

    def runs(self) -> Iterable[tuple[str, str]]:
        """Split into pieces of one ink: (text, ink), from left to right."""
        for ink, group in groupby(zip(self.chars, self.inks, strict=True), key=lambda cell: cell[1]):
            yield "".join(char for char, _ in group), ink


class RowBuilder:
    """Builds a line of cells."""

    def __init__(self, width: int, fill: str = " ", ink: str = PLAIN) -> None:
        self.width = width
        self._chars = [fill] * width
        self._inks = [ink] * width

    def put(self, x: int, text: str, ink: str, until: int | None = None) -> int:
        """Write text from cell `x` on; what lies at or beyond `until` (or the row's end) is cut off.

        Controls and invisible characters are written as their codes.

        Returns:
            The cell after the last one written.
        """
        end = self.width if until is None else min(until, self.width)
        text = printable(text)
        if text.isascii() and x >= 0:
            text = text[: max(0, end - x)]
            self._chars[x : x + len(text)] = text
            self._inks[x : x + len(text)] = ink * len(text)
            return x + len(text)
        for char in text:
            size = get_character_cell_size(char)
            if size <= 0:
                continue
            if x < 0 or x + size > end:
                break
            self._chars[x] = char
            self._inks[x] = ink
            if size == 2:
                self._chars[x + 1] = ""
                self._inks[x + 1] = ink
            x += size
        return x

    def fill(self, x: int, end: int, char: str, ink: str) -> None:
        """Write one character into the cells from `x` up to `end`."""
        for cell in range(max(x, 0), min(end, self.width)):
            self._chars[cell] = char
            self._inks[cell] = ink

    def row(self) -> CellRow:
        """The finished line."""
        return CellRow(tuple(self._chars), "".join(self._inks))


def plain_row(text: str, width: int, ink: str = PLAIN) -> CellRow:
    """Make a line of one ink, cut or filled to a width."""
    builder = RowBuilder(width)
    builder.put(0, text, ink)
    return builder.row()


class Zone(NamedTuple):
    """Cells of a row that carry out an action when clicked."""

    row: int
    x: int
    end: int
    call: str


class Panel(NamedTuple):
    """Drawn rows, with the zones that can be clicked."""

    rows: tuple[CellRow, ...]
    zones: tuple[Zone, ...]

    def call_at(self, x: int, y: int) -> str:
        """The action of the zone at a cell; empty for none."""
        return next((zone.call for zone in self.zones if zone.row == y and zone.x <= x < zone.end), "")
