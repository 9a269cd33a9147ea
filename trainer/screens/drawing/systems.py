"""Wrapping bars into systems: lines of music that fit a width, and the map from musical places to cells and back."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.playback.piece import Loop, Piece
from trainer.screens.drawing.columns import SPACINGS, BarColumns, Column, ColumnTable


@dataclass(frozen=True, slots=True)
class PlacedColumn:
    """A column at its place in a system."""

    column: Column
    x: int
    """Its first cell."""
    width: int

    @property
    def end(self) -> int:
        """The cell after its last one."""
        return self.x + self.width


@dataclass(frozen=True, slots=True)
class Stretch:
    """A bar, or some pulses of one, at its place in a system."""

    bar: int
    """The bar's index in the piece."""
    columns: tuple[PlacedColumn, ...]
    x: int
    """The cell of its bar line, or of the gap where a bar goes on."""
    end: int
    """The cell after its last one."""
    begins: bool
    """Whether the bar begins here."""
    ends: bool
    """Whether it ends here."""


@dataclass(frozen=True, slots=True)
class System:
    """One line of music."""

    stretches: tuple[Stretch, ...]
    width: int
    """Cells from the gutter's start to the last bar line."""

    @property
    def at(self) -> Fraction:
        """The place of its first column."""
        return self.stretches[0].columns[0].column.at

    @property
    def end(self) -> Fraction:
        """The place where its music ends."""
        last = self.stretches[-1].columns[-1].column
        return last.at + last.length

    @property
    def bars(self) -> tuple[int, ...]:
        """The indices of its bars, a bar that goes on from the system before included."""
        return tuple(stretch.bar for stretch in self.stretches)

    @property
    def columns(self) -> tuple[PlacedColumn, ...]:
        """Its columns in order of time."""
        return tuple(column for stretch in self.stretches for column in stretch.columns)

    def column_at(self, place: Fraction) -> PlacedColumn | None:
        """The column that sounds at a place; None outside the system."""
        if not self.at <= place < self.end:
            return None
        columns = self.columns
        return columns[bisect_right(columns, place, key=lambda placed: placed.column.at) - 1]

    def bar_at(self, x: int) -> int | None:
        """The bar that a cell belongs to; None outside the bars."""
        return next((stretch.bar for stretch in self.stretches if stretch.x <= x < stretch.end), None)


@dataclass(frozen=True, slots=True)
class Chunk:
    """What is wrapped as a whole: a bar, or one pulse of a bar that is too wide."""

    bar: int
    columns: tuple[Column, ...]
    begins: bool
    ends: bool

    def width(self, spacing: float) -> int:
        """Cells, with the bar line and the lead where the bar begins."""
        return (2 if self.begins else 0) + sum(column.width(spacing) for column in self.columns)


AHEAD = 3
"""Bars that a line holds where it can, when only one is seen at once: more of them say more of what comes."""


FILLED = 0.6
"""The share of the window that every line but the last fills at least, where the roomiest spacing is looked for."""


def systems_of(table: ColumnTable, bars: Sequence[int], width: int, gutter: int, slots: int) -> tuple[System, ...]:
    """Wrap bars into systems.

    Args:
        table: the columns.
        bars: indices of bars in the order in which they are played.
        width: cells of the whole line.
        gutter: cells before the first bar line.
        slots: systems that can be seen at once.

    Returns:
        Systems at the roomiest spacing that needs no more of them than fit, or than the narrowest spacing needs. Where
        only one is seen at once, each begins with what ends the one before, so that the player can always read ahead.
    """
    room = width - gutter - 1
    chunks = [chunk for bar in bars for chunk in _chunks(table, bar, room, slots)]
    riffs = [table.piece.bars[chunk.bar].riff for chunk in chunks]
    overlap = slots == 1
    tightest = _break(_widths(chunks, SPACINGS[-1]), riffs, room, overlap)
    most = max(len(tightest), 1 if overlap else slots)
    ahead = min(AHEAD, _shortest(tightest)) if overlap and len(tightest) > 1 else 1
    best = SPACINGS[-1], tightest
    for spacing in reversed(SPACINGS):
        widths = _widths(chunks, spacing)
        lines = _break(widths, riffs, room, overlap)
        used = [sum(widths[n] for n in line) for line in lines]
        if max(used) > room or len(lines) > most or _shortest(lines) < ahead:
            continue
        if overlap or min(used[:-1], default=room) >= FILLED * room:
            best = spacing, lines
    spacing, lines = best
    if not overlap:
        lines = _evened(_widths(chunks, spacing), riffs, room, lines)
    return tuple(_place([chunks[n] for n in line], spacing, gutter) for line in lines)


def _widths(chunks: Sequence[Chunk], spacing: float) -> list[int]:
    return [chunk.width(spacing) for chunk in chunks]


def _shortest(lines: Sequence[range]) -> int:
    """The fewest chunks of any line but the last."""
    return min((len(line) for line in lines[:-1]), default=len(lines[-1]) if lines else 0)


def _evened(widths: Sequence[int], riffs: Sequence[int], room: int, lines: list[range]) -> list[range]:
    """As many lines, about equally long: what the narrowest room gives that needs no more of them."""
    low, high = 1, room
    while low < high:
        middle = (low + high) // 2
        if len(_break(widths, riffs, middle, overlap=False)) <= len(lines):
            high = middle
        else:
            low = middle + 1
    return _break(widths, riffs, high, overlap=False)


def bars_of(loop: Loop) -> range:
    """The indices of a loop's bars."""
    return range(loop.first, loop.last + 1)


def _chunks(table: ColumnTable, bar: int, room: int, slots: int) -> list[Chunk]:
    """A bar whole, or by its pulses where it is too wide (with one system in view: where two do not fit)."""
    columns = table[bar]
    if columns.width(SPACINGS[-1]) <= (room if slots > 1 else room // 2):
        return [Chunk(bar, columns.columns, True, True)]
    return _by_pulse(columns, table.piece)


def _by_pulse(columns: BarColumns, piece: Piece) -> list[Chunk]:
    bar = piece.bars[columns.bar]
    groups: dict[int, list[Column]] = {}
    for column in columns.columns:
        groups.setdefault(int((column.at - bar.at) / bar.meter.pulse), []).append(column)
    last = len(groups) - 1
    return [Chunk(columns.bar, tuple(group), n == 0, n == last) for n, group in enumerate(groups.values())]


def _break(widths: Sequence[int], riffs: Sequence[int], room: int, overlap: bool) -> list[range]:
    """Chunks in lines, by their indices; a riff begins a line of its own, unless lines overlap."""
    lines: list[range] = []
    begin = used = 0
    for n, wide in enumerate(widths):
        if n > begin and (used + wide > room or (riffs[n] != riffs[n - 1] and not overlap)):
            lines.append(range(begin, n))
            again = overlap and n - begin > 1 and widths[n - 1] + wide <= room
            begin = n - 1 if again else n
            used = widths[n - 1] if again else 0
        used += wide
    if widths:
        lines.append(range(begin, len(widths)))
    return lines


def _place(line: Sequence[Chunk], spacing: float, gutter: int) -> System:
    x = gutter
    stretches: list[Stretch] = []
    for chunk in line:
        begin = x
        x += 2 if chunk.begins else 0
        placed = []
        for column in chunk.columns:
            wide = column.width(spacing)
            placed.append(PlacedColumn(column, x, wide))
            x += wide
        stretches.append(Stretch(chunk.bar, tuple(placed), begin, x, chunk.begins, chunk.ends))
    return System(tuple(stretches), x + 1)
