"""Burst: one bar over the target, then rest, for a bar that stalls.

Fast movement is controlled differently from slow movement (van Vugt et al. 2014), so a stalling bar is also met at
speed.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple, Self

from trainer.practice.verdict import Outcome

OVER_PERCENT = 6.0
"""House rule: two smallest rungs over the target."""
REST_BARS = 2
"""House rule: twice as long a rest as the burst."""
ENOUGH = 8
"""House rule: bursts of one bar in a row; more of them tire the hand."""


class BurstPass(NamedTuple):
    """What to play next."""

    bar: int
    tempo_bpm: int
    rest_bars: int
    """Bars of silence after it."""


@dataclass(frozen=True, slots=True)
class Burst:
    """A run of bursts on one bar."""

    bar: int
    target_bpm: float
    over: float = OVER_PERCENT
    rest_bars: int = REST_BARS
    wanted: int = 3
    """Clean bursts in a row that are enough."""
    most: int = ENOUGH
    """Bursts after which the hand rests in any case."""
    played: int = 0
    clean: int = 0

    @property
    def next(self) -> BurstPass | None:
        """The next burst; None when it is enough."""
        if self.done:
            return None
        return BurstPass(self.bar, round(self.target_bpm * (1 + self.over / 100)), self.rest_bars)

    @property
    def done(self) -> bool:
        """Whether the run is over."""
        return self.clean >= self.wanted or self.played >= self.most

    @property
    def won(self) -> bool:
        """Whether it is over because it was clean often enough."""
        return self.clean >= self.wanted

    def after(self, outcome: Outcome) -> Self:
        """The run after a burst: an unjudged one tires the hand all the same, and counts for nothing else."""
        clean = {Outcome.CLEAN: self.clean + 1, Outcome.MISSED: 0, Outcome.UNJUDGED: self.clean}[outcome]
        return replace(self, played=self.played + 1, clean=clean)
