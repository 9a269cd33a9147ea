"""The interval line: at every onset that two parts share, how far apart they are."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from trainer.arranging.scale import spell
from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.note import Touch
from trainer.music.part import TabPart
from trainer.music.pitch import Pitch
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi

WIDEST_NUMBER = 10
"""Intervals beyond a tenth are named without their octaves: an eleventh is a fourth."""


@dataclass(frozen=True, slots=True)
class Shared:
    """An onset that two parts share."""

    bar: int
    """From 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    at: Fraction
    """Whole notes from the riff's start."""
    one: Pitch
    """The first part's note, the highest of a chord."""
    other: Pitch
    """The second part's."""

    @property
    def interval(self) -> Interval:
        """From the first part's note to the second's; negative where the second is lower."""
        return Interval.between(self.one, self.other)

    @property
    def upward(self) -> Interval:
        """The interval from the lower to the higher, beyond a tenth without its octaves."""
        up = self.interval.upward
        octaves = max(0, (up.steps - WIDEST_NUMBER + 7) // 7) if up.steps >= WIDEST_NUMBER else 0
        return Interval(up.steps - 7 * octaves, up.semitones - 12 * octaves)

    @property
    def number(self) -> int:
        """What the stand shows: 3 for a third, 8 for an octave, up to 10."""
        return self.upward.number

    @property
    def name(self) -> str:
        """Quality and number: "m3", "P4", "A4"."""
        return str(self.upward)

    @property
    def above(self) -> bool:
        """Whether the second part is the higher one."""
        return self.other.midi > self.one.midi


def interval_line(one: TabPart, other: TabPart, riff: Riff) -> tuple[Shared, ...]:
    """Every onset that two parts share, in order, spelled in the riff's key. Dead notes have no interval."""
    first, second = top_notes(one, riff.key), top_notes(other, riff.key)
    starts = riff.bar_starts
    return tuple(
        Shared(bar + 1, offset, starts[bar] + offset, pitch, second[(bar, offset)])
        for (bar, offset), pitch in first.items()
        if (bar, offset) in second
    )


def top_notes(part: TabPart, key: Key) -> Mapping[tuple[int, Fraction], Pitch]:
    """For each onset (bar from 0, offset) of a part its highest pitch, in order."""
    found = {}
    for number, bar in enumerate(part.bars):
        for moment in bar:
            heard = [note_midi(part.instrument, note) for note in moment.notes if note.touch is not Touch.DEAD]
            if heard:
                found[(number, moment.offset)] = spell(key, max(heard))
    return found
