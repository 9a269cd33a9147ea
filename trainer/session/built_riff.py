"""The bars that a building loop plays, as a riff of their own: with one note over the join, before or after them.

Before the built bars stands the whole bar before, empty but for its last note, which so is counted in to. After them
stands a bar of a single count with what starts on it.
"""

from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.meter import Meter
from trainer.music.note import DrumMoment, Moment
from trainer.music.part import DrumPart, Part, TabPart
from trainer.music.riff import Riff
from trainer.music.tempo import TempoMark
from trainer.practice.methods import BuiltLoop


@dataclass(frozen=True, slots=True)
class Built:
    """A slice of a riff."""

    riff: Riff
    offset: Fraction
    """Where it begins, in whole notes from the start of the riff it was cut from."""


def built_riff(riff: Riff, loop: BuiltLoop) -> Built:
    """The slice of a riff that a building loop plays.

    Args:
        riff: the riff, its harmonies computed.
        loop: bars counted from 1.
    """
    first, last = loop.first_bar - 1, loop.last_bar - 1
    starts = riff.bar_starts
    meters = list(riff.meters[first : last + 1])
    begin = starts[first]
    before = riff.meters[first - 1] if loop.note_before and first else None
    after = riff.meters[last + 1] if loop.note_after and last + 1 < len(riff.meters) else None
    if before:
        meters.insert(0, before)
        begin -= before.length
    if after:
        meters.append(Meter(1, after.unit))
    parts = tuple(_slice(part, first, last, before, after) for part in riff.parts)
    end = begin + sum((meter.length for meter in meters), Fraction(0))
    cut = replace(riff, meters=tuple(meters), parts=parts, tempo_marks=_marks(riff.tempo_marks, begin, end))
    return Built(cut, begin)


def _slice(part: Part, first: int, last: int, before: Meter | None, after: Meter | None) -> Part:
    if isinstance(part, TabPart):
        bars = list(part.bars[first : last + 1])
        if before:
            bars.insert(0, _last_count(part.bars[first - 1], before))
        if after:
            bars.append(tuple(moment for moment in part.bars[last + 1] if moment.offset == 0))
        return replace(part, bars=tuple(bars))
    if isinstance(part, DrumPart):
        hits = list(part.bars[first : last + 1])
        if before:
            hits.insert(0, _last_hits(part.bars[first - 1], before))
        if after:
            hits.append(tuple(moment for moment in part.bars[last + 1] if moment.offset == 0))
        return replace(part, bars=tuple(hits))
    return part


def _last_count(bar: tuple[Moment, ...], meter: Meter) -> tuple[Moment, ...]:
    """The last note of a bar; one that is held into the last count starts with that."""
    notes = [moment for moment in bar if moment.notes or moment.rest]
    if not notes:
        return ()
    return (replace(notes[-1], offset=max(notes[-1].offset, meter.length - meter.count_length)),)


def _last_hits(bar: tuple[DrumMoment, ...], meter: Meter) -> tuple[DrumMoment, ...]:
    return tuple(moment for moment in bar if moment.offset >= meter.length - meter.count_length)


def _marks(marks: tuple[TempoMark, ...], begin: Fraction, end: Fraction) -> tuple[TempoMark, ...]:
    """The tempo marks of a slice: the tempo that is in force where it begins, then those inside."""
    inside = [replace(mark, at=mark.at - begin) for mark in marks if begin <= mark.at < end]
    earlier = [mark for mark in marks if mark.at < begin]
    if earlier and not (inside and inside[0].at == 0):
        inside.insert(0, TempoMark(Fraction(0), earlier[-1].bpm, False))
    return tuple(inside)
