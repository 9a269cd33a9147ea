"""How a ladder is climbed: every parameter, its default and where it comes from, in one table.

The default style is an up-down staircase on the tempo's logarithm (Levitt 1971, JASA 49:467): up after `passes` clean
ones in a row, down after a miss. With up and down steps alike it settles where `passes` clean ones in a row are as
likely as not, that is where one pass is clean with probability 0.5 ** (1 / passes): 50 % for 1, 70.7 % for 2, 79.4 %
for 3. When a miss costs `miss` steps, the drift is nought where p ** passes = miss / (miss + 1) (weighted up-down:
Kaernbach 1991, Percept Psychophys 49:227). When a miss costs nothing, the staircase never comes down and settles
nowhere.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import isfinite
from typing import Annotated, Any, NamedTuple

from trainer.music.exercise import LADDER_BOUNDS
from trainer.music.problem import nearest
from trainer.values import problem_of, shown, within

Tell = Callable[[str, str, str, str], object]
"""Hears of a problem its key, what is wrong, what is allowed, and a hint."""


class ClimbStyle(StrEnum):
    """How the climb is made. Henley 2001 (JRME 49) found the three about alike: the choice is the player's."""

    STAIRCASE = "staircase"
    """Every pass is played at the rung."""
    ALTERNATION = "alternation"
    """Rung and the day's highest tempo take turns; only the rung's passes move the ladder."""
    BURSTS = "bursts"
    """Always at the day's highest tempo; the ladder climbs in bars: one more when clean, one fewer after a miss."""


@dataclass(frozen=True, slots=True)
class Rise:
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
    Parameter("style", ClimbStyle.STAIRCASE, 0, 0, "how the climb is made", "Henley 2001: the styles come out alike"),
    Parameter(
        "step",
        Rise(4.0),
        *LADDER_BOUNDS["step"],
        "height of a rung at first",
        f"{HOUSE}: well over the just noticed 2-3 %",
    ),
    Parameter("smallest", 2.5, 0.1, 20, "smallest worthwhile rung, % of the tempo", "Drake & Botte 1993: 2-3 %"),
    Parameter(
        "passes", 3, *LADDER_BOUNDS["passes"], "clean passes in a row to climb", "Levitt 1971: 3 settle at 79.4 % clean"
    ),
    Parameter("miss", 1, *LADDER_BOUNDS["miss"], "steps down for a miss", "Levitt 1971: 1; Kaernbach 1991 for others"),
    Parameter(
        "beyond",
        4.0,
        *LADDER_BOUNDS["beyond"],
        "last rung over the target, %",
        f"{HOUSE}: owned when the next is possible",
    ),
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

BY_NAME = {parameter.name: parameter for parameter in PARAMETERS}
_DEFAULT: dict[str, Any] = {parameter.name: parameter.default for parameter in PARAMETERS}


@dataclass(frozen=True, slots=True)
class LadderRules:
    """The settings of one ladder; `PARAMETERS` says what each is and where its default comes from.

    >>> [round(tempo) for tempo in LadderRules(start_bpm=150, target_bpm=168, step=Rise(6, "bpm")).rungs()]
    [150, 156, 162, 168, 175]
    """

    start_bpm: float
    """The tempo the player can play now."""
    target_bpm: float
    """The tempo the player wants."""
    style: ClimbStyle = _DEFAULT["style"]
    step: Rise = _DEFAULT["step"]
    smallest: float = _DEFAULT["smallest"]
    passes: int = _DEFAULT["passes"]
    miss: int = _DEFAULT["miss"]
    beyond: float = _DEFAULT["beyond"]
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
            if isinstance(value, Rise):
                value = value.amount
            if not isinstance(value, str) and not parameter.least <= value <= parameter.most:
                raise ValueError(f"{parameter.name} is {value}, not {parameter.least:g} to {parameter.most:g}")

    @property
    def last_bpm(self) -> float:
        """The last rung, a little over the target."""
        return self.target_bpm * (1 + self.beyond / 100)

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

    def next_above(self, tempo_bpm: float, step: Rise) -> float:
        """The rung one `step` over `tempo_bpm`; the target and the last rung are never stepped over."""
        higher = step.above(tempo_bpm)
        for stop in (self.target_bpm, self.last_bpm):
            near = stop * (1 - self.smallest / 200)  # a rung hardly under the target is no rung of its own
            if tempo_bpm < stop and higher > near:
                return stop
        return min(higher, max(self.last_bpm, tempo_bpm))

    def step_after(self, halvings: int, tempo_bpm: float) -> Rise:
        """The first step halved so many times, never under the smallest worthwhile one (unless it began there)."""
        least = self.smallest if self.step.unit == "%" else tempo_bpm * self.smallest / 100
        halved = self.step.amount / 2**halvings
        return Rise(min(self.step.amount, max(halved, least)), self.step.unit)


def read_parameters(table: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """The parameters that a `[ladder]` table sets, by name; whatever is wrong is told and left out.

    Args:
        table: a player's or an exercise's.
        tell: hears of each problem the key, what is wrong, what is allowed, and a hint.

    >>> read_parameters({"passes": 2, "step": "3%"}, print)
    {'passes': 2, 'step': Rise(amount=3.0, unit='%')}
    >>> read_parameters({"pases": 2, "miss": 99}, print)
    pases "pases" is not a key of [ladder] style, step, smallest, ... Did you mean "passes"
    miss "miss" cannot be 99 a whole number from 0 to 10
    {}
    """
    understood: dict[str, Any] = {}
    for key, value in table.items():
        parameter = BY_NAME.get(key)
        if parameter is None:
            near = nearest(key, tuple(BY_NAME))
            hint = f'Did you mean "{near}"' if near else ""
            tell(key, f'"{key}" is not a key of [ladder]', ", ".join(BY_NAME), hint)
            continue
        found = _value(parameter, value)
        if found is None:
            tell(key, f'"{key}" cannot be {shown(value)}', _allowed(parameter), "")
        else:
            understood[key] = found
    return understood


def rules_for(start_bpm: Fraction | float, target_bpm: Fraction | float, *tables: Mapping[str, Any]) -> LadderRules:
    """The rules of a ladder that can be climbed in any case.

    Args:
        start_bpm: where the riff's own tempo starts.
        target_bpm: where it leads; when it is under the start, the ladder has one rung.
        tables: `[ladder]` tables, each standing over those before it; what is wrong in one is passed over.
    """
    settings: dict[str, Any] = {}
    for table in tables:
        settings |= read_parameters(table, lambda *_: None)
    start = float(start_bpm)
    return LadderRules(start, max(start, float(target_bpm)), **settings)


def _value(parameter: Parameter, value: Any) -> Any:
    """The value a parameter is given; None where it cannot be that."""
    usual = parameter.default
    if isinstance(value, Rise):
        value = str(value)
    in_per_cent = isinstance(value, str) and value.strip().endswith("%")
    if isinstance(value, str) and isinstance(usual, float | Rise):  # 12, "12" or "12%"
        try:
            value = float(value.strip().removesuffix("%"))
        except ValueError:
            return None
    kind = float if isinstance(usual, Rise) else type(usual)
    bounded = kind if kind is ClimbStyle else Annotated[kind, within(parameter.least, parameter.most)]
    if value is None or problem_of(bounded, value) is not None:
        return None
    return Rise(float(value), "%" if in_per_cent else "bpm") if isinstance(usual, Rise) else kind(value)


def _allowed(parameter: Parameter) -> str:
    if isinstance(parameter.default, ClimbStyle):
        return ", ".join(f'"{style}"' for style in ClimbStyle)
    bounds = f"from {parameter.least:g} to {parameter.most:g}"
    if isinstance(parameter.default, Rise):
        return f'bpm as "4" or per cent as "3%", {bounds}'
    return f"a {'whole ' if isinstance(parameter.default, int) else ''}number {bounds}"
