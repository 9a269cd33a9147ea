"""How a ladder is climbed: every parameter, its default and where it comes from, in one table.

The default way is an up-down staircase on the tempo's logarithm (Levitt 1971, JASA 49:467): up after `passes` clean
ones in a row, down after a miss. With up and down steps alike it settles where `passes` clean ones in a row are as
likely as not, that is where one pass is clean with probability 0.5 ** (1 / passes): 50 % for 1, 70.7 % for 2, 79.4 %
for 3. When a miss costs `miss` steps, the drift is nought where p ** passes = miss / (miss + 1) (weighted up-down:
Kaernbach 1991, Percept Psychophys 49:227). When a miss costs nothing, the staircase never comes down and settles
nowhere.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import Any, NamedTuple


class Way(StrEnum):
    """How the climb is made. Henley 2001 (JRME 49) found the three about alike: the choice is the player's."""

    STAIRCASE = "staircase"
    """Every pass is played at the rung."""
    ALTERNATION = "alternation"
    """Rung and the day's highest tempo take turns; only the rung's passes move the ladder."""
    BURSTS = "bursts"
    """Always at the day's highest tempo; the ladder climbs in bars: one more when clean, one fewer after a miss."""


@dataclass(frozen=True, slots=True)
class Step:
    """The height of one rung."""

    amount: float
    unit: str = "%"
    """ "%" of the tempo, or "bpm"."""

    def __post_init__(self) -> None:
        """Raise ValueError for a step that does not rise."""
        if self.unit not in {"%", "bpm"} or not (isfinite(self.amount) and self.amount > 0):
            raise ValueError(f"{self.amount} {self.unit} is no step")

    def above(self, tempo_bpm: float) -> float:
        """The tempo one step over `tempo_bpm`."""
        return tempo_bpm * (1 + self.amount / 100) if self.unit == "%" else tempo_bpm + self.amount

    def below(self, tempo_bpm: float) -> float:
        """The tempo from which one step leads to `tempo_bpm`; never under a tenth of it."""
        lower = tempo_bpm / (1 + self.amount / 100) if self.unit == "%" else tempo_bpm - self.amount
        return max(lower, tempo_bpm / 10)

    def __str__(self) -> str:
        """As it is written in a file: "4%" or "4"."""
        return f"{self.amount:g}%" if self.unit == "%" else f"{self.amount:g}"


class Parameter(NamedTuple):
    """One adjustable figure of the ladder."""

    name: str
    default: Any
    least: float
    most: float
    what: str
    source: str


HOUSE = "house rule"

PARAMETERS = (
    Parameter("way", Way.STAIRCASE, 0, 0, "how the climb is made", "Henley 2001: the ways come out alike"),
    Parameter("step", Step(4.0), 0.1, 50, "height of a rung at first", f"{HOUSE}: well over the just noticed 2-3 %"),
    Parameter("smallest", 2.5, 0.1, 20, "smallest worthwhile rung, % of the tempo", "Drake & Botte 1993: 2-3 %"),
    Parameter("passes", 3, 1, 20, "clean passes in a row to climb", "Levitt 1971: 3 settle at 79.4 % clean"),
    Parameter("miss", 1, 0, 10, "steps down for a miss", "Levitt 1971: 1; Kaernbach 1991 for others"),
    Parameter("over", 4.0, 0, 25, "last rung over the target, %", f"{HOUSE}: owned when the next is possible"),
    Parameter(
        "rise", 12.0, 1, 100, "highest rise suggested in a day, %", f"{HOUSE}; Chan & Ackermann 2014: sudden rise"
    ),
    Parameter("not_now", 4, 2, 50, "misses in a row that mean: not now", HOUSE),
    Parameter("widen", 4, 0, 20, "climbs in a row that double a halved step; 0: never", f"{HOUSE} after PEST (1967)"),
    Parameter("lowest", 50.0, 10, 100, "lowest rung, % of the start", HOUSE),
    Parameter("mean_of", 6, 2, 20, "last reversals whose mean is today's tempo", "Levitt 1971: an even number"),
    Parameter("burst_bars", 1, 1, 16, "bars of the first burst", "van Vugt et al. 2014: short chunks at the target"),
)
"""Every parameter with its default, its bounds and its source; PEST is Taylor & Creelman 1967, JASA 41:782."""

_DEFAULT: dict[str, Any] = {parameter.name: parameter.default for parameter in PARAMETERS}


@dataclass(frozen=True, slots=True)
class LadderRules:
    """The settings of one ladder; `PARAMETERS` says what each is and where its default comes from."""

    start_bpm: float
    """The tempo the player can play now."""
    target_bpm: float
    """The tempo the player wants."""
    way: Way = _DEFAULT["way"]
    step: Step = _DEFAULT["step"]
    smallest: float = _DEFAULT["smallest"]
    passes: int = _DEFAULT["passes"]
    miss: int = _DEFAULT["miss"]
    over: float = _DEFAULT["over"]
    rise: float = _DEFAULT["rise"]
    not_now: int = _DEFAULT["not_now"]
    widen: int = _DEFAULT["widen"]
    lowest: float = _DEFAULT["lowest"]
    mean_of: int = _DEFAULT["mean_of"]
    burst_bars: int = _DEFAULT["burst_bars"]

    def __post_init__(self) -> None:
        """Raise ValueError when a figure is outside its bounds or the ladder does not rise."""
        if not 0 < self.start_bpm <= self.target_bpm < 1000:
            raise ValueError(f"no ladder leads from {self.start_bpm} to {self.target_bpm} bpm")
        for parameter in PARAMETERS:
            value = getattr(self, parameter.name)
            if isinstance(value, Step):
                value = value.amount
            if not isinstance(value, str) and not parameter.least <= value <= parameter.most:
                raise ValueError(f"{parameter.name} is {value}, not {parameter.least:g} to {parameter.most:g}")

    @property
    def last_bpm(self) -> float:
        """The last rung, a little over the target."""
        return self.target_bpm * (1 + self.over / 100)

    @property
    def lowest_bpm(self) -> float:
        """The ladder never goes under this."""
        return self.start_bpm * self.lowest / 100

    def rungs(self) -> tuple[float, ...]:
        """The tempos from start to the last rung in full steps, target included: what a screen draws."""
        tempos = [self.start_bpm]
        while tempos[-1] < self.last_bpm:
            tempos.append(self.next_above(tempos[-1], self.step))
        return tuple(tempos)

    def next_above(self, tempo_bpm: float, step: Step) -> float:
        """The rung one `step` over `tempo_bpm`; the target and the last rung are never stepped over."""
        higher = step.above(tempo_bpm)
        for stop in (self.target_bpm, self.last_bpm):
            near = stop * (1 - self.smallest / 200)  # a rung hardly under the target is no rung of its own
            if tempo_bpm < stop and higher > near:
                return stop
        return min(higher, max(self.last_bpm, tempo_bpm))

    def step_after(self, halvings: int, tempo_bpm: float) -> Step:
        """The first step halved so many times, never under the smallest worthwhile one (unless it began there)."""
        least = self.smallest if self.step.unit == "%" else tempo_bpm * self.smallest / 100
        halved = self.step.amount / 2**halvings
        return Step(min(self.step.amount, max(halved, least)), self.step.unit)

    def settles_at(self) -> float | None:
        """The probability of a clean pass where the staircase comes to rest; None when a miss costs nothing."""
        return (self.miss / (self.miss + 1)) ** (1 / self.passes) if self.miss else None
