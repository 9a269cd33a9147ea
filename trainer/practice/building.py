"""Building: a loop learned bar by bar, from its front or from its end, the next bar added when the last pass was clean.

Playing breaks down where learned chunks join (van Vugt et al. 2012), so every loop reaches one note over the join.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple, Self

from trainer.practice.verdict import Outcome


class BuiltLoop(NamedTuple):
    """What to loop: bars, and the note over the join."""

    first_bar: int
    last_bar: int
    note_before: bool
    """The loop begins with the last note of the bar before."""
    note_after: bool
    """The loop ends on the first note of the bar after."""


@dataclass(frozen=True, slots=True)
class Building:
    """How much of a loop is built."""

    first_bar: int
    last_bar: int
    from_end: bool = False
    """Whether the last bar comes first."""
    bars: int = 1
    """Bars built so far."""
    passes: int = 1
    """Clean passes in a row that add a bar."""
    give_back: int = 2
    """Missed passes in a row that take the newest bar away again (house rule)."""
    clean: int = 0
    misses: int = 0

    def __post_init__(self) -> None:
        """Raise ValueError when there is no bar to build."""
        if not 1 <= self.bars <= self.last_bar - self.first_bar + 1:
            raise ValueError(f"{self.bars} bars cannot be built from {self.first_bar} to {self.last_bar}")

    @property
    def loop(self) -> BuiltLoop:
        """What to loop now."""
        if self.from_end:
            first = self.last_bar - self.bars + 1
            return BuiltLoop(first, self.last_bar, first > self.first_bar, False)
        last = self.first_bar + self.bars - 1
        return BuiltLoop(self.first_bar, last, False, last < self.last_bar)

    @property
    def whole(self) -> bool:
        """Whether every bar is in the loop."""
        return self.bars == self.last_bar - self.first_bar + 1

    def after(self, outcome: Outcome) -> Self:
        """The loop for the next pass."""
        if outcome is Outcome.CLEAN:
            if self.clean + 1 < self.passes or self.whole:
                return replace(self, clean=self.clean + 1, misses=0)
            return replace(self, bars=self.bars + 1, clean=0, misses=0)
        if outcome is Outcome.MISSED:
            if self.misses + 1 < self.give_back or self.bars == 1:
                return replace(self, clean=0, misses=self.misses + 1)
            return replace(self, bars=self.bars - 1, clean=0, misses=0)
        return self
