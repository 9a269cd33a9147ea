"""Tempo: the ladder's ends, the marks inside a riff, and the map that both make.

A tempo is in pulses a minute (bpm); the meter says what a pulse is. A gradual change moves the *length of a pulse*
evenly from its start to its end, so that the time at any place is an exact fraction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

from trainer.music.meter import Meter

SLOWEST_BPM = 20
FASTEST_BPM = 400
"""Tempos that can be asked for; a house rule, wider than anything playable."""


@dataclass(frozen=True, slots=True)
class Tempo:
    """Where the climb begins and where it goes, in bpm."""

    start: Fraction
    target: Fraction


@dataclass(frozen=True, slots=True, order=True)
class TempoMark:
    """A tempo written inside a riff, as it is at the target tempo."""

    at: Fraction
    """Whole notes from the riff's start."""
    bpm: Fraction
    gradual: bool
    """True: from here gradually to `bpm`, reached at the next mark or the riff's end. False: `bpm` from here on."""


@dataclass(frozen=True, slots=True)
class TempoSpan:
    """A stretch of music over which the length of a whole note is constant or moves evenly."""

    at: Fraction
    """Where it begins, in whole notes from the riff's start."""
    length: Fraction
    """In whole notes."""
    slow_from: Fraction
    """Seconds a whole note takes at its beginning, at the target tempo."""
    slow_to: Fraction
    """Seconds a whole note takes at its end."""

    @property
    def seconds(self) -> Fraction:
        """How long the whole span takes."""
        return self.length * (self.slow_from + self.slow_to) / 2

    def seconds_to(self, offset: Fraction) -> Fraction:
        """Seconds from the span's start to a place `offset` whole notes into it."""
        if self.slow_from == self.slow_to:
            return offset * self.slow_from
        return offset * self.slow_from + (self.slow_to - self.slow_from) * offset * offset / (2 * self.length)


def tempo_map(meters: Sequence[Meter], target_bpm: Fraction, marks: Sequence[TempoMark]) -> tuple[TempoSpan, ...]:
    """The tempo map of a riff at its target tempo: spans that follow each other from its start to its end.

    >>> (span,) = tempo_map([Meter(4, 4)], Fraction(120), [])
    >>> span.seconds
    Fraction(2, 1)

    Args:
        meters: one for each bar.
        target_bpm: the tempo at the start, where no mark stands.
        marks: in order of place; where two stand at one place, the last counts.
    """
    starts = list(accumulate((meter.length for meter in meters), initial=Fraction(0)))
    end = starts[-1]
    cuts = sorted({start for i, start in enumerate(starts[:-1]) if i == 0 or meters[i].pulse != meters[i - 1].pulse})
    pulses = {start: meter.pulse for start, meter in zip(starts, meters, strict=False)}
    curve = _pulse_lengths(target_bpm, [mark for mark in marks if mark.at < end], end)
    places = sorted({*cuts, *(at for at, *_ in curve), end})
    spans = []
    pulse = Fraction(1, 4)
    piece = 0
    for at, until in pairwise(places):
        pulse = pulses[at] if at in cuts else pulse
        while piece + 1 < len(curve) and curve[piece + 1][0] <= at:
            piece += 1
        begin, length, first, last = curve[piece]
        rise = (last - first) / length
        spans.append(
            TempoSpan(at, until - at, (first + rise * (at - begin)) / pulse, (first + rise * (until - begin)) / pulse)
        )
    return tuple(spans)


def _pulse_lengths(
    bpm: Fraction, marks: Sequence[TempoMark], end: Fraction
) -> list[tuple[Fraction, Fraction, Fraction, Fraction]]:
    """Pieces (at, length, seconds a pulse at the start, seconds a pulse at the end), without gaps."""
    pieces = []
    at, now, goal = Fraction(0), 60 / bpm, 60 / bpm
    for place, value, gradual in [*((mark.at, 60 / mark.bpm, mark.gradual) for mark in marks), (end, None, False)]:
        if place > at:
            pieces.append((at, place - at, now, goal))
            now = goal
        at = place
        if value is not None:
            now, goal = (now, value) if gradual else (value, value)
    return pieces
