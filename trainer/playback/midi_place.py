"""Where a frame of a finished performance lies in a MIDI file, in ticks, and the tempos that lead there.

The places of notes are musical and exact: every written time that is a whole number of ticks comes back at that tick,
at any tempo. The tempos between them are as exact as the format allows, whole microseconds in a quarter; a gradual
change is written in steps that stray from the true curve by at most half a millisecond.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, sqrt

from trainer.playback.frame_map import FrameMap, round_half_up

PPQ = 960
"""Ticks in a quarter."""
WHOLE = 4 * PPQ
"""Ticks in a whole note."""

MOST_STRAY = 0.0005
"""Seconds by which a stepped tempo may stray from a gradual one."""

_SLOWEST = (1 << 24) - 1


@dataclass(frozen=True, slots=True)
class Played:
    """A stretch that was played from end to end at one tempo."""

    frames: FrameMap
    begin: Fraction
    """Where it begins on the curve of `frames`, in whole notes."""
    end: Fraction
    at: Fraction
    """Where it begins in the file, in whole notes."""
    first: int
    """Its first frame."""

    @property
    def until(self) -> Fraction:
        """Where it ends in the file."""
        return self.at + self.end - self.begin


class Places:
    """The ticks of a performance."""

    def __init__(self, stretches: Sequence[Played]) -> None:
        """Stretches that follow each other without a gap, at least one."""
        self._stretches = stretches
        self._firsts = [stretch.first for stretch in stretches]
        self._known: dict[int, int] = {}

    def tick(self, frame: int) -> int:
        """The tick nearest to a frame; 0 for what comes before the first one."""
        if frame not in self._known:
            stretch = self._stretches[max(0, bisect_right(self._firsts, frame) - 1)]
            place = stretch.frames.curve.place(stretch.frames.seconds_at(frame))
            self._known[frame] = max(0, tick_of(stretch.at + place - stretch.begin))
        return self._known[frame]

    def tempos(self) -> Iterator[tuple[int, int]]:
        """Ticks and the microseconds a quarter takes from there on; only where that changes."""
        before = 0
        for stretch in self._stretches:
            for place, slowness in _slownesses(stretch):
                micros = min(_SLOWEST, round_half_up(slowness / stretch.frames.share * 250_000))
                if micros != before:
                    before = micros
                    yield tick_of(stretch.at + place - stretch.begin), micros


def tick_of(place: Fraction) -> int:
    """The tick nearest to a place in whole notes."""
    return round_half_up(place * WHOLE)


def _slownesses(stretch: Played) -> Iterator[tuple[Fraction, Fraction]]:
    """Places on the curve, and the seconds a whole note takes (at the target tempo) from there to the next."""
    for span in stretch.frames.curve.spans:
        begin, end = max(span.at, stretch.begin), min(span.at + span.length, stretch.end)
        if begin >= end:
            continue
        rise = (span.slow_to - span.slow_from) / span.length
        # Over a step of length h a straight line strays from the curve by rise * h * h / 8 seconds.
        most = abs(float(rise / stretch.frames.share)) * float(end - begin) ** 2 / 8
        steps = max(1, ceil(sqrt(most / MOST_STRAY)))
        for n in range(steps):
            place = begin + (end - begin) * n / steps
            middle = place + (end - begin) / (2 * steps)
            yield place, span.slow_from + rise * (middle - span.at)
