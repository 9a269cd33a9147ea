"""The interval line: what two parts make together at every note that both start."""

from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache

from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.note import Moment, Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi


@lru_cache(maxsize=4096)
def interval_between(key: Key, one: int, other: int) -> Interval:
    """The interval between two MIDI keys as they are spelled in a key, counted upward."""
    low, high = sorted((one, other))
    return Interval.between(key.spell(low), key.spell(high)).upward


def intervals_of(riff: Riff, bar: int, upper: str, lower: str) -> Mapping[Fraction, Interval]:
    """The interval at every offset of a bar where both parts start a note; of chords the highest notes count.

    Args:
        riff: the riff, its harmonies computed.
        bar: counted from 0.
        upper: the name of one part.
        lower: the name of the other; which one sounds higher does not matter.
    """
    found = [riff.part(upper), riff.part(lower)]
    tops = [_tops(part, bar) if isinstance(part, TabPart) else {} for part in found]
    return {
        offset: interval_between(riff.key, midi, tops[1][offset])
        for offset, midi in tops[0].items()
        if offset in tops[1]
    }


MOST = 10
"""Wider intervals are named without their octaves: a tenth is a sound of its own, a seventeenth is a third."""


def interval_name(interval: Interval, quality: bool) -> str:
    """What the line says: "3", or with its quality "m3"."""
    number = interval.number
    if number > MOST:
        number = (number - 2) % 7 + 2
    return f"{interval.quality}{number}" if quality else str(number)


def _tops(part: TabPart, bar: int) -> dict[Fraction, int]:
    if bar >= len(part.bars):
        return {}
    tops = ((moment.offset, _top(part, moment)) for moment in part.bars[bar])
    return {offset: top for offset, top in tops if top is not None}


def _top(part: TabPart, moment: Moment) -> int | None:
    pitches = [note_midi(part.instrument, note) for note in moment.notes if note.touch is not Touch.DEAD]
    return max(pitches, default=None)
