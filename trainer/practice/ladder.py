"""The ladder: which tempo comes next, earned by clean passes. A frozen state machine without clock or chance.

`Ladder.begin` stands on the first rung, `after` takes the outcome of a pass at the rung, `at` follows a tempo that the
player chose, `on` begins another day. `rung` is what to play next. How it settles: `ladder_rules`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from math import exp, floor, log
from typing import Any, NamedTuple, Self

from trainer.practice.ladder_rules import ClimbStyle, LadderRules, Rise
from trainer.practice.passes import MOST_BPM
from trainer.practice.verdict import Outcome
from trainer.values import plain, read

KEPT_REVERSALS = 20
"""As many reversals as the longest mean asks for."""


class Word(StrEnum):
    """What the ladder says after a pass; `SENTENCES` has the words."""

    STAY = "stay"
    UP = "up"
    DOWN = "down"
    TARGET = "target"
    OWNED = "owned"
    ENOUGH = "enough"
    NOT_NOW = "not now"


class Instead(StrEnum):
    """What to do when it is "not now", in the order in which it is suggested on one day."""

    SLOWER = "slower"
    FEWER_BARS = "fewer bars"
    OTHER_PART = "the other part"
    REST = "rest"


class Rung(NamedTuple):
    """What to play next."""

    tempo_bpm: int
    """A whole number, as metronomes and musicians count."""
    bars: int | None
    """Only so many bars of the loop; None: all of it."""
    moves: bool
    """Whether the pass moves the ladder (the fast pass of an alternation does not)."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Where a player stands on a ladder.

    >>> ladder = Ladder.begin(LadderRules(start_bpm=92, target_bpm=168, passes=1), date(2031, 3, 1))
    >>> ladder.after(Outcome.CLEAN).rung.tempo_bpm, ladder.after(Outcome.MISSED).rung.tempo_bpm
    (96, 88)
    """

    rules: LadderRules
    day: date
    base_bpm: float
    """Where the day began: the day's rise is counted from here."""
    tempo_bpm: float
    """The rung, unrounded."""
    bars: int = 0
    """Bars of a burst; 0 in the other ways."""
    loop_bars: int = 1
    """Bars of the whole loop, that bursts grow to."""
    halvings: int = 0
    """How often the first step is halved now."""
    direction: int = 0
    """1 after a step up, -1 after a step down, 0 before the first."""
    same: int = 0
    """Steps up since the last reversal or widening."""
    clean: int = 0
    """Clean passes in a row at this rung."""
    misses: int = 0
    """Missed passes in a row."""
    turn: int = 0
    """Passes judged today."""
    reversals: tuple[float, ...] = ()
    """Today's tempos where the direction changed, oldest first."""
    word: Word = Word.STAY
    """What the last judged pass led to."""
    instead: Instead | None = None
    """With "not now": what to do instead."""
    not_nows: int = 0
    """How often it was "not now" today."""
    target_clean: bool = False
    """Whether the target was climbed over."""
    owned: bool = False
    """Whether the last rung was clean: the target is owned."""

    def __post_init__(self) -> None:
        """Raise ValueError for tempos and bars that cannot be."""
        for tempo in (self.base_bpm, self.tempo_bpm, *self.reversals):
            if not 0 < tempo < MOST_BPM:
                raise ValueError(f"{tempo} bpm is no rung")
        if self.bars < 0 or self.loop_bars < 1 or self.halvings < 0:
            raise ValueError("a ladder has no fewer than no bars")

    @classmethod
    def begin(cls, rules: LadderRules, day: date, from_bpm: float | None = None, loop_bars: int = 1) -> Self:
        """The first rung on a day: the rules' start, or `from_bpm` where an earlier record says so."""
        tempo = float(min(max(from_bpm or rules.start_bpm, rules.lowest_bpm), rules.last_bpm))
        bars = min(rules.burst_bars, loop_bars) if rules.style is ClimbStyle.BURSTS else 0
        return cls(rules, day, tempo, tempo, bars, loop_bars)

    @property
    def limit_bpm(self) -> float:
        """The highest tempo that is suggested today."""
        return min(self.base_bpm * (1 + self.rules.rise / 100), self.rules.last_bpm)

    @property
    def step(self) -> Rise:
        """The height of the next step."""
        return self.rules.step_after(self.halvings, self.tempo_bpm)

    @property
    def rung(self) -> Rung:
        """What to play next."""
        if self.rules.style is ClimbStyle.BURSTS:
            return Rung(self._whole(max(self.limit_bpm, self.tempo_bpm)), self.bars, True)
        fast = self.rules.style is ClimbStyle.ALTERNATION and self.turn % 2 == 1
        return Rung(self._whole(max(self.limit_bpm, self.tempo_bpm) if fast else self.tempo_bpm), None, not fast)

    @property
    def today_bpm(self) -> float | None:
        """Today's tempo: the geometric mean of the last reversals, without the first; None before there are four."""
        later = self.reversals[1:][-self.rules.mean_of :]
        even = later[len(later) % 2 :]
        return exp(sum(map(log, even)) / len(even)) if len(self.reversals) >= 4 else None

    def after(self, outcome: Outcome) -> Self:
        """The ladder after a pass at `rung`; an unjudged pass changes nothing at all."""
        if outcome is Outcome.UNJUDGED:
            return self
        next_turn = replace(self, turn=self.turn + 1, word=Word.STAY, instead=None)
        if not self.rung.moves:
            return next_turn
        return next_turn._after_clean() if outcome is Outcome.CLEAN else next_turn._after_miss()

    def at(self, tempo_bpm: float) -> Self:
        """The ladder moved by the player's own hand: it follows, and forgets the run that led elsewhere."""
        if self._whole(tempo_bpm) == self._whole(self.tempo_bpm):
            return self
        return replace(self, tempo_bpm=float(tempo_bpm), clean=0, misses=0, direction=0, same=0, instead=None)

    def on(self, day: date) -> Self:
        """The ladder on another day: today's tempo, one step lower to play into it, with full steps again.

        The rise is counted from where the earlier day ended, so that it can be regained at once.
        """
        if day == self.day:
            return self
        left = self.today_bpm or self.tempo_bpm
        fresh = type(self).begin(self.rules, day, left, self.loop_bars)
        entry = (
            left if self.rules.style is ClimbStyle.BURSTS else max(self.rules.step.below(left), self.rules.lowest_bpm)
        )
        return replace(
            fresh,
            base_bpm=left,
            tempo_bpm=min(entry, self.rules.last_bpm),
            target_clean=self.target_clean,
            owned=self.owned,
        )

    def as_dict(self) -> dict[str, Any]:
        """The position as plain values for JSON, without the rules."""
        return {name: value for name, value in plain(self).items() if name != "rules"}

    @classmethod
    def from_dict(cls, rules: LadderRules, values: Mapping[str, Any]) -> Self:
        """The position that `as_dict` gave, on these rules.

        Raises:
            NotUnderstoodError: when `values` did not come from `as_dict`.
        """
        return read(cls, {**values, "rules": rules})

    def _whole(self, tempo_bpm: float) -> int:
        nearest = round(tempo_bpm)
        day_bpm = self.base_bpm * (1 + self.rules.rise / 100)
        over = nearest > day_bpm >= tempo_bpm
        return max(1, floor(tempo_bpm) if over else nearest)

    def _after_clean(self) -> Self:
        state = replace(self, clean=self.clean + 1, misses=0)
        if state.clean < self.rules.passes:
            return state
        state = replace(state, clean=0)
        return state._longer() if self.rules.style is ClimbStyle.BURSTS else state._higher()

    def _higher(self) -> Self:
        rules = self.rules
        if self.tempo_bpm >= rules.last_bpm:
            return replace(self, word=Word.OWNED, owned=True, target_clean=True)
        first = self.tempo_bpm >= rules.target_bpm and not self.target_clean
        state = replace(self, target_clean=self.target_clean or first)
        wanted = rules.next_above(self.tempo_bpm, self.step)
        if wanted > self.limit_bpm and self._whole(self.limit_bpm) <= self._whole(self.tempo_bpm):
            return replace(state, word=Word.TARGET if first else Word.ENOUGH)
        word = Word.TARGET if first else Word.UP
        return replace(state._turned(1), tempo_bpm=min(wanted, self.limit_bpm), word=word)

    def _longer(self) -> Self:
        if self.bars < self.loop_bars:
            return replace(self, bars=self.bars + 1, word=Word.UP)
        played = max(self.limit_bpm, self.tempo_bpm)
        if played >= self.rules.last_bpm:
            return replace(self, word=Word.OWNED, owned=True, target_clean=True)
        return replace(self, tempo_bpm=played, target_clean=played >= self.rules.target_bpm, word=Word.ENOUGH)

    def _after_miss(self) -> Self:
        state = replace(self, clean=0, misses=self.misses + 1)
        if self.rules.style is ClimbStyle.BURSTS:
            state = replace(state, bars=max(1, self.bars - self.rules.miss), word=Word.DOWN)
        elif self.rules.miss:
            state = state._turned(-1)
            lower = self.tempo_bpm
            for _ in range(self.rules.miss):
                lower = self.step.below(lower)
            state = replace(state, tempo_bpm=max(lower, self.rules.lowest_bpm), word=Word.DOWN)
        if state.misses < self.rules.not_now:
            return state
        order = list(Instead)
        instead = order[min(state.not_nows, len(order) - 1)]
        return replace(state, misses=0, not_nows=state.not_nows + 1, word=Word.NOT_NOW, instead=instead)

    def _turned(self, direction: int) -> Self:
        if self.direction == -direction:
            reversals = (*self.reversals, self.tempo_bpm)[-KEPT_REVERSALS:]
            return replace(self, direction=direction, same=1, halvings=min(self.halvings + 1, 8), reversals=reversals)
        same = self.same + 1
        if direction > 0 and self.rules.widen and same >= self.rules.widen:
            return replace(self, direction=direction, same=0, halvings=max(0, self.halvings - 1))
        return replace(self, direction=direction, same=same)


SENTENCES: dict[Word, str] = {
    Word.STAY: "Once more at {tempo} bpm.",
    Word.UP: "Clean. Next: {tempo} bpm.",
    Word.DOWN: "Missed. Next: {tempo} bpm.",
    Word.TARGET: "The target is clean. {tempo} bpm makes it yours.",
    Word.OWNED: "{target} bpm is yours: the rung over it is clean too.",
    Word.ENOUGH: "{tempo} bpm is enough of a rise for one day. Keep it clean, and climb on tomorrow.",
    Word.NOT_NOW: "Not now. {instead}",
}
INSTEAD: dict[Instead, str] = {
    Instead.SLOWER: "Take it slower, at a tempo that feels too easy.",
    Instead.FEWER_BARS: "Take fewer bars: the one that stumbles and the note after it.",
    Instead.OTHER_PART: "Take the other guitar's part for a while.",
    Instead.REST: "Rest your hands, and come back to this another time.",
}
BURST = "{bars} bar{s} at {tempo} bpm, then rest."


def sentence(ladder: Ladder) -> str:
    """What to tell the player after the last pass."""
    rung = ladder.rung
    instead = INSTEAD[ladder.instead] if ladder.instead else ""
    target = round(ladder.rules.target_bpm)
    if rung.bars is not None and ladder.word in {Word.STAY, Word.UP, Word.DOWN}:
        return BURST.format(bars=rung.bars, s="" if rung.bars == 1 else "s", tempo=rung.tempo_bpm)
    return SENTENCES[ladder.word].format(tempo=rung.tempo_bpm, target=target, instead=instead).strip()
