"""The bars of a score that make one riff, and how a place in them is told."""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from trainer.exchange.score import Change
from trainer.music.meter import Meter
from trainer.music.riff import bar_starts
from trainer.notation.count import count_name

Tell = list[Change]
"""Takes what had to be changed."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """The bars of a score that make a riff."""

    first: int
    """The index of its first bar in the score."""
    meters: tuple[Meter, ...]
    start: Fraction
    """Where it begins in the score, in whole notes."""

    @property
    def starts(self) -> tuple[Fraction, ...]:
        """Where each of its bars begins, and last where it ends, from its own start."""
        return bar_starts(self.meters)

    @property
    def end(self) -> Fraction:
        """Where it ends in the score."""
        return self.start + self.starts[-1]

    def bar_of(self, place: Fraction) -> int:
        """The bar, from 0, in which a place of the riff lies."""
        return min(bisect_right(self.starts, place) - 1, len(self.meters) - 1)

    def change(self, place: Fraction, part: str, what: str) -> Change:
        """A change at a place of the riff."""
        bar = self.bar_of(place)
        return Change(self.first + bar + 1, beat_name(place - self.starts[bar], self.meters[bar]), part, what)


def beat_name(offset: Fraction, meter: Meter) -> str:
    """How a place in a bar is said; the beat before it where no count says it."""
    try:
        return count_name(offset, meter)
    except (ValueError, StopIteration):
        return str(int(offset / meter.count_length) + 1)


@dataclass(frozen=True, slots=True)
class PartStretch:
    """One part in a stretch, and where changes to it are told."""

    stretch: Stretch
    part: str
    told: Tell

    def tell(self, place: Fraction, what: str) -> None:
        """Tell a change at a place of the stretch."""
        self.told.append(self.stretch.change(place, self.part, what))
