"""Seconds at any place of a riff, at any tempo: what the hands have to work with.

Hands are not that exact: unlike the timeline's, this clock counts in floating point.
"""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from trainer.music.riff import Riff


@dataclass(frozen=True, slots=True)
class RiffClock:
    """A riff's tempo map; one entry for each of its spans."""

    places: tuple[float, ...]
    """Where each span begins, in whole notes."""
    begins: tuple[float, ...]
    """When, in seconds at the tempo asked for."""
    slow: tuple[tuple[float, float], ...]
    """Seconds a whole note takes at the span's start, and by how much that grows for each whole note."""

    def seconds(self, at: float) -> float:
        """Seconds from the riff's start to a place in whole notes."""
        index = max(0, bisect_right(self.places, at) - 1) if len(self.places) > 1 else 0
        offset = at - self.places[index]
        slow, growth = self.slow[index]
        return self.begins[index] + offset * slow + offset * offset * growth / 2


def riff_clock(riff: Riff, bpm: Fraction | None = None) -> RiffClock:
    """A riff's clock at a tempo in bpm, or at its target; marks inside the riff keep their ratio to the target."""
    spans = riff.tempo_map
    stretch = float(riff.tempo.target / bpm) if bpm else 1.0
    begins = tuple(accumulate((float(span.seconds) * stretch for span in spans[:-1]), initial=0.0))
    slow = tuple(
        (float(span.slow_from) * stretch, float((span.slow_to - span.slow_from) / span.length) * stretch)
        for span in spans
    )
    return RiffClock(tuple(float(span.at) for span in spans), begins, slow)
