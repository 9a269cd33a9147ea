"""Bars wrapped into systems, lines of music that fit a width; and which of them are in view while the music plays.

Every place where something starts is a column; a column's width grows with its length. With several systems in view,
each stays where it is until it has been played; then the next one that is not in view takes its place, while the player
reads on in the one below (after the lowest, in the uppermost). With a single system in view, systems overlap: the view
turns when the playing enters what the next one begins with.
"""

import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from trainer.music.meter import Meter
from trainer.music.note import DrumMoment, Moment
from trainer.music.part import DrumPart, TabPart
from trainer.notation.cell import write_cell
from trainer.notation.count import MARKS, write_counts
from trainer.playback.piece import Piece

# -- columns -------------------------------------------------------------------------------------------------------

SPACINGS = (11.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0)
"""Cells for a column one pulse long, roomiest spacing first; the narrowest leaves only what texts need."""
_GROWTH = 0.6
"""Engravers' spacing: room grows with this power of the length."""


@dataclass(frozen=True, slots=True)
class CountColumn:
    """A column of a bar: one place where something starts."""

    at: Fraction
    """Its place, in whole notes from the piece's start."""
    length: Fraction
    """Whole notes until the next column or the bar's end."""
    mark: str
    """Its count, as players say it."""
    beat: bool
    """Whether it stands on a count's number."""
    needs: int
    """Cells for its widest text, and one to separate it from the next."""
    room: float
    """How much room it should have, as a share of a column one pulse long."""

    def width(self, spacing: float) -> int:
        """Cells at a spacing (cells for one pulse)."""
        return max(self.needs, round(spacing * self.room))


@dataclass(frozen=True, slots=True)
class BarColumns:
    """One bar's columns, in order of time."""

    bar: int
    """Its index in the piece."""
    columns: tuple[CountColumn, ...]

    def width(self, spacing: float) -> int:
        """Cells it takes with the bar line before it and a cell of lead."""
        return 2 + sum(column.width(spacing) for column in self.columns)


class ColumnTable:
    """The columns of every bar of a piece, for the parts in view; each bar is computed once, on demand."""

    def __init__(self, piece: Piece, parts: Sequence[str], least: int = 1) -> None:
        """A table that is still empty.

        Args:
            piece: the music.
            parts: the parts in view.
            least: cells that every column's text takes at least.
        """
        self.piece = piece
        self.least = least
        self.parts = tuple(parts)
        self._bars: dict[int, BarColumns] = {}

    def __getitem__(self, bar: int) -> BarColumns:
        found = self._bars.get(bar)
        if found is None:
            found = self._bars[bar] = self._make(bar)
        return found

    def __len__(self) -> int:
        return len(self.piece.bars)

    def _make(self, index: int) -> BarColumns:
        bar = self.piece.bars[index]
        riff = self.piece.riffs[bar.riff].riff
        parts = [part for name in self.parts if isinstance(part := riff.part(name), TabPart | DrumPart)]
        moments = [moment for part in parts if bar.number < len(part.bars) for moment in part.bars[bar.number]]
        needs: dict[tuple[int, int], int] = {}
        for moment in moments:  # keyed by whole numbers: hashing fractions takes most of the time
            key = moment.offset.numerator, moment.offset.denominator
            needs[key] = max(needs.get(key, 1), _text_length(moment))
        shape = _columns(tuple(needs.items()), bar.meter, self.least)
        columns = (
            CountColumn(bar.at + at, length, mark, beat, cells, room) for at, length, mark, beat, cells, room in shape
        )
        return BarColumns(index, tuple(columns))


@lru_cache(maxsize=1024)
def _columns(
    texts: tuple[tuple[tuple[int, int], int], ...], meter: Meter, least: int
) -> tuple[tuple[Fraction, Fraction, str, bool, int, float], ...]:
    """Compute the columns of a bar: for each its offset, then the fields of `CountColumn` after its place.

    Args:
        texts: for each place where something starts, as numerator and denominator, the cells of its widest text.
        meter: the bar's.
        least: cells that every text takes at least.
    """
    needs = {Fraction(*place): cells for place, cells in texts}
    marks = {
        offset: mark for offset, mark in count_marks(needs, meter).items() if offset in needs or _is_beat(offset, meter)
    }
    offsets = sorted(marks)
    return tuple(
        (
            offset,
            end - offset,
            marks[offset],
            _is_beat(offset, meter),
            max(needs.get(offset, 1), len(marks[offset]), least) + 1,
            math.pow((end - offset) / meter.pulse, _GROWTH),
        )
        for offset, end in zip(offsets, [*offsets[1:], meter.length], strict=True)
    )


def count_marks(offsets: Iterable[Fraction], meter: Meter) -> dict[Fraction, str]:
    """Name the count of every given offset and of every beat; a dot where no count can."""
    wanted = frozenset(offsets)
    try:
        return {offset: mark for mark, offset in write_counts(wanted, meter)}
    except ValueError:
        beats = {n * meter.count_length: str(n + 1) for n in range(meter.counts)}
        named = {place: mark for mark, place in MARKS.items()}
        inside = {offset: named.get(offset / meter.count_length % 1, ".") for offset in wanted}
        return inside | beats


def _is_beat(offset: Fraction, meter: Meter) -> bool:
    return (offset / meter.count_length).denominator == 1


def _text_length(moment: Moment | DrumMoment) -> int:
    """Cells for the widest text of a moment."""
    if isinstance(moment, DrumMoment):
        return 1
    return max(1, len(finger_text(moment)), *(len(write_cell(note)) for note in moment.notes))


def finger_text(moment: Moment) -> str:
    """Write the fingers from the thickest string to the thinnest, only once if it is one finger, as in the file."""
    fingers = [note.finger for note in reversed(moment.notes) if note.finger]
    return fingers[0] if len(set(fingers)) == 1 else "".join(fingers)


# -- systems -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PlacedColumn:
    """A column at its place in a system."""

    column: CountColumn
    x: int
    """Its first cell."""
    width: int

    @property
    def end(self) -> int:
        """The cell after its last one."""
        return self.x + self.width


@dataclass(frozen=True, slots=True)
class BarStretch:
    """A bar, or some pulses of a bar, at its place in a system."""

    bar: int
    """The bar's index in the piece."""
    columns: tuple[PlacedColumn, ...]
    x: int
    """The cell of its bar line, or of the gap if the bar goes on here."""
    end: int
    """The cell after its last one."""
    begins: bool
    """Whether the bar begins here."""
    ends: bool
    """Whether it ends here."""


@dataclass(frozen=True, slots=True)
class DrawnSystem:
    """One line of music."""

    stretches: tuple[BarStretch, ...]
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
    """A unit of wrapping: a bar, or one pulse of a bar that is too wide."""

    bar: int
    columns: tuple[CountColumn, ...]
    begins: bool
    ends: bool

    def width(self, spacing: float) -> int:
        """Cells, with the bar line and the lead where the bar begins."""
        return (2 if self.begins else 0) + sum(column.width(spacing) for column in self.columns)


AHEAD = 3
"""Bars that a line holds if possible when only one line is seen at once, so that more of what comes is seen."""


FILLED = 0.6
"""The least share of the window that every line but the last fills at an acceptable spacing."""


def systems_of(table: ColumnTable, bars: Sequence[int], width: int, gutter: int, slots: int) -> tuple[DrawnSystem, ...]:
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
    """The number of chunks in the shortest line, the last one aside."""
    return min((len(line) for line in lines[:-1]), default=len(lines[-1]) if lines else 0)


def _evened(widths: Sequence[int], riffs: Sequence[int], room: int, lines: list[range]) -> list[range]:
    """Break into as many lines of about equal length: the narrowest room that needs no more lines."""
    low, high = 1, room
    while low < high:
        middle = (low + high) // 2
        if len(_break(widths, riffs, middle, overlap=False)) <= len(lines):
            high = middle
        else:
            low = middle + 1
    return _break(widths, riffs, high, overlap=False)


def _chunks(table: ColumnTable, bar: int, room: int, slots: int) -> list[Chunk]:
    """Take a bar whole, or by its pulses if it is too wide (with one system in view: if two do not fit)."""
    columns = table[bar]
    if columns.width(SPACINGS[-1]) <= (room if slots > 1 else room // 2):
        return [Chunk(bar, columns.columns, True, True)]
    return _by_pulse(columns, table.piece)


def _by_pulse(columns: BarColumns, piece: Piece) -> list[Chunk]:
    bar = piece.bars[columns.bar]
    groups: dict[int, list[CountColumn]] = {}
    for column in columns.columns:
        groups.setdefault(int((column.at - bar.at) / bar.meter.pulse), []).append(column)
    last = len(groups) - 1
    return [Chunk(columns.bar, tuple(group), n == 0, n == last) for n, group in enumerate(groups.values())]


def _break(widths: Sequence[int], riffs: Sequence[int], room: int, overlap: bool) -> list[range]:
    """Break chunks into lines, by their indices; a riff begins a new line, unless lines overlap."""
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


def _place(line: Sequence[Chunk], spacing: float, gutter: int) -> DrawnSystem:
    x = gutter
    stretches: list[BarStretch] = []
    for chunk in line:
        begin = x
        x += 2 if chunk.begins else 0
        placed = []
        for column in chunk.columns:
            wide = column.width(spacing)
            placed.append(PlacedColumn(column, x, wide))
            x += wide
        stretches.append(BarStretch(chunk.bar, tuple(placed), begin, x, chunk.begins, chunk.ends))
    return DrawnSystem(tuple(stretches), x + 1)


# -- turning pages -------------------------------------------------------------------------------------------------

ENTERED = 2
"""How many columns of a system are played before the system above it is replaced."""


def system_at(systems: Sequence[DrawnSystem], place: Fraction) -> int:
    """The index of the system in which a place is read; the later one of two that overlap there."""
    return max((n for n, system in enumerate(systems) if system.at <= place < system.end), default=0)


def in_view(systems: Sequence[DrawnSystem], slots: int, place: Fraction, passes: int = 0) -> tuple[int, ...]:
    """Choose the system in each slot of the window, by index, from the top.

    Args:
        systems: the systems of the loop.
        slots: how many are seen at once.
        place: where the playing is.
        passes: passes that were played before: slots go on in turn where the loop begins anew.
    """
    count = len(systems)
    if count <= slots:
        return tuple(range(count))
    now = system_at(systems, place)
    if slots == 1:
        return (now,)
    turn = passes * count + now
    columns = systems[now].columns
    entered = place >= columns[min(ENTERED, len(columns) - 1)].column.at
    shown = []
    for slot in range(slots):
        ahead = (slot - turn) % slots
        stays = ahead == slots - 1 and not entered and turn > 0
        shown.append((now - 1 if stays else now + ahead) % count)
    return tuple(shown)
