"""Seconds at any place of a riff, at any tempo: what the hands have to work with."""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from trainer.music.riff import Riff
from trainer.music.tempo import TempoSpan


@dataclass(frozen=True, slots=True)
class RiffClock:
    """A riff's tempo map with the time at which each span begins."""

    spans: tuple[TempoSpan, ...]
    begins: tuple[Fraction, ...]
    """Seconds at the target tempo, one for each span."""
    stretch: Fraction
    """Target tempo / tempo asked for."""

    def seconds(self, at: Fraction) -> Fraction:
        """Seconds from the riff's start to a place in whole notes."""
        index = max(0, bisect_right(self.spans, at, key=lambda span: span.at) - 1)
        span = self.spans[index]
        return (self.begins[index] + span.seconds_to(at - span.at)) * self.stretch


def riff_clock(riff: Riff, bpm: Fraction | None = None) -> RiffClock:
    """A riff's clock at a tempo in bpm, or at its target; marks inside the riff keep their ratio to the target."""
    spans = riff.tempo_map
    begins = tuple(accumulate((span.seconds for span in spans[:-1]), initial=Fraction(0)))
    return RiffClock(spans, begins, riff.tempo.target / bpm if bpm else Fraction(1))
