"""The columns of a bar: every place where a part in view starts something, with the count that names it.

Columns are spaced as engravers space notes: a longer one gets more room, but less than twice as much for twice the
length, so that a gallop shows its shape and a line still fits.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

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
    pulse: Fraction
    """The pulse of its bar, in whole notes."""

    def width(self, spacing: float) -> int:
        """Cells at a spacing (cells for one pulse)."""
        return max(self.needs, round(spacing * math.pow(self.length / self.pulse, _GROWTH)))


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
        self._alike: dict[tuple[int, int], tuple[tuple[Fraction, Fraction, str, bool, int], ...]] = {}

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
        key = id(riff), bar.number
        if key not in self._alike:
            parts = [part for name in self.parts if isinstance(part := riff.part(name), TabPart | DrumPart)]
            moments = [part.bars[bar.number] for part in parts if bar.number < len(part.bars)]
            self._alike[key] = _columns(moments, bar.meter, self.least)
        pulse = bar.meter.pulse
        return BarColumns(
            index,
            tuple(
                Column(bar.at + offset, length, mark, beat, needs, pulse)
                for offset, length, mark, beat, needs in self._alike[key]
            ),
        )


def _columns(
    bars: Sequence[Sequence[Moment | DrumMoment]], meter: Meter, least: int
) -> tuple[tuple[Fraction, Fraction, str, bool, int], ...]:
    """For each column of a bar: offset, length, count, whether it is a beat, cells needed."""
    needs: dict[Fraction, int] = {}
    for moments in bars:
        for moment in moments:
            needs[moment.offset] = max(needs.get(moment.offset, 1), *_text_lengths(moment), 1)
    marks = count_marks(needs, meter)
    for offset, mark in marks.items():
        if _is_beat(offset, meter):
            needs.setdefault(offset, 1)
        needs[offset] = max(needs.get(offset, 1), len(mark)) if offset in needs else 0
    offsets = sorted(offset for offset, need in needs.items() if need)
    ends = [*offsets[1:], meter.length]
    return tuple(
        (offset, end - offset, marks[offset], _is_beat(offset, meter), max(needs[offset], least) + 1)
        for offset, end in zip(offsets, ends, strict=True)
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


def _text_lengths(moment: Moment | DrumMoment) -> tuple[int, ...]:
    if isinstance(moment, DrumMoment):
        return (1,)
    return (1, *(len(write_cell(note)) for note in moment.notes))
