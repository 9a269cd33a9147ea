"""The columns of a bar: every place where a part in view starts something, with the count that names it.

Columns are spaced as engravers space notes: a longer one gets more room, but less than twice as much for twice the
length, so that a gallop shows its shape and a line still fits.
"""

import math
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

SPACINGS = (11.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0)
"""Cells that a column of one pulse would like to have, roomiest first; the narrowest leaves what is needed."""
_GROWTH = 0.6
"""Engravers' spacing: room grows with this power of the length."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a bar."""

    at: Fraction
    """Its place, in whole notes from the piece's start."""
    length: Fraction
    """Whole notes until the next column or the bar's end."""
    mark: str
    """Its count, as players say it."""
    beat: bool
    """Whether it stands on a count's number."""
    needs: int
    """Cells that its widest text takes, with one to part it from the next."""
    room: float
    """How much room it would like, as a share of what a column of one pulse likes."""

    def width(self, spacing: float) -> int:
        """Cells at a spacing (cells for one pulse)."""
        return max(self.needs, round(spacing * self.room))


@dataclass(frozen=True, slots=True)
class BarColumns:
    """One bar's columns, in order of time."""

    bar: int
    """Its index in the piece."""
    columns: tuple[Column, ...]

    def width(self, spacing: float) -> int:
        """Cells it takes with the bar line before it and a cell of lead."""
        return 2 + sum(column.width(spacing) for column in self.columns)


class ColumnTable:
    """The columns of every bar of a piece, for the parts in view; each bar is worked out once, when it is asked for."""

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
            Column(bar.at + at, length, mark, beat, cells, room) for at, length, mark, beat, cells, room in shape
        )
        return BarColumns(index, tuple(columns))


@lru_cache(maxsize=1024)
def _columns(
    texts: tuple[tuple[tuple[int, int], int], ...], meter: Meter, least: int
) -> tuple[tuple[Fraction, Fraction, str, bool, int, float], ...]:
    """The columns of a bar: offset, and what `Column` holds after its place.

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
    """The count of every given offset and of every beat; a dot where no count can say it."""
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
    """Cells that the widest text of a moment takes."""
    if isinstance(moment, DrumMoment):
        return 1
    return max(1, len(finger_text(moment)), *(len(write_cell(note)) for note in moment.notes))


def finger_text(moment: Moment) -> str:
    """The fingers from the thickest string to the thinnest, once where it is one finger, as in the file."""
    fingers = [note.finger for note in reversed(moment.notes) if note.finger]
    return fingers[0] if len(set(fingers)) == 1 else "".join(fingers)
