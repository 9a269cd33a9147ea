"""Ways to practise a loop beside the ladder: built bar by bar, in bursts, and with a guide that fades."""

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


FALL_DB = 4.0
"""House rule: clearly quieter, yet seven clean passes until the guide is gone."""
SILENT_DB = -28.0
"""House rule: under this the guide is switched off; beside two guitars and drums it is not heard any more."""


@dataclass(frozen=True, slots=True)
class FadingGuide:
    """How loud my part's guide is."""

    level_db: float = 0.0
    """0 is the part's own level; never above."""
    fall_db: float = FALL_DB
    """How much quieter after a clean pass."""
    rise_db: float | None = None
    """How much louder after a missed one; None: back to its full level at once."""

    @property
    def gain(self) -> float:
        """What to multiply the part's level with: 1.0 at first, 0.0 when the guide is gone."""
        return 0.0 if self.level_db <= SILENT_DB else 10 ** (self.level_db / 20)

    def after(self, outcome: Outcome) -> Self:
        """The guide for the next pass."""
        if outcome is Outcome.CLEAN:
            return replace(self, level_db=max(self.level_db - self.fall_db, SILENT_DB))
        if outcome is Outcome.MISSED:
            return replace(self, level_db=0.0 if self.rise_db is None else min(0.0, self.level_db + self.rise_db))
        return self
