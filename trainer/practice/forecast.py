"""When the record says that a tempo will be reached, and how sure that is.

The day's best clean tempo is taken as a noisy reading of a curve: on the tempo's logarithm, level + slope *
shape(x), with x in days of practice. The shapes (`SHAPES`) rise steadily, rise ever more slowly, or level off at a
plateau. For each of them level, slope and noise have a conjugate Bayesian regression (normal, inverse gamma) with
wide priors; a day far off the rest counts less (Student weights, 4 degrees of freedom). The shapes are weighed by
their evidence. Each draw from the posterior gives a day on which its curve reaches the target, or none. Days of
practice become dates by how often the player practised lately, itself uncertain (Beta). What is reported is the
middle and the 80 % interval of these dates. Tests measure how often simulated learners' true dates fall inside.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from math import exp, expm1, inf, log, log1p, sqrt
from statistics import median
from typing import NamedTuple

from trainer.practice.reading import LineDay

LEAST_DAYS = 6
"""House rule: with fewer days that had a clean whole pass there is not enough record …"""
LEAST_SPAN = 10
"""… nor within fewer days from the first to the last of them."""
HORIZON_DAYS = 730
"""House rule: a date further off than two years is no date."""
INTERVAL = 0.8
"""The share of dates between `early` and `late`."""
DRAWS = 1500


class Curve(StrEnum):
    """How a shape rises; every one begins with slope 1."""

    STEADY = "steady"
    """x"""
    SLOWING = "slowing"
    """size * log(1 + x / size): ever more slowly, with no end."""
    LEVELLING = "levelling"
    """size * (1 - exp(-x / size)): toward a plateau."""


class Shape(NamedTuple):
    """One shape of getting faster."""

    curve: Curve
    size: float
    """Days of practice after which it bends."""
    weight: float
    """How likely it is beforehand."""


SHAPES = (
    Shape(Curve.STEADY, 1.0, 0.35),
    *(Shape(Curve.SLOWING, size, 0.3 / 4) for size in (4.0, 12.0, 36.0, 100.0)),
    *(Shape(Curve.LEVELLING, size, 0.35 / 7) for size in (4.0, 7.0, 12.0, 20.0, 35.0, 60.0, 110.0)),
)
"""The weights are a house rule, tested on simulated learners of all three kinds."""
MIDDLING = Shape(Curve.SLOWING, 20.0, 1.0)
"""The shape that outlying days are told by."""
NOISE = 0.03
"""Expected spread of a day's best around the curve, as a share of the tempo: about a smallest rung."""
LEVEL_SPREAD, SLOPE_MEAN, SLOPE_SPREAD = 0.3, 0.008, 0.02
"""Beforehand: where the curve begins, and its rise per day of practice (1 % is a rung every fourth day)."""
RECENT_DAYS = 28
"""How far back the player's habit of practising is read."""


class Prospect(StrEnum):
    """What can be said."""

    TOO_LITTLE = "not enough record yet"
    REACHED = "reached"
    DATED = "dated"
    OUT_OF_SIGHT = "not in sight"


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a tempo will be reached."""

    prospect: Prospect
    early: date | None = None
    """One chance in ten that it is earlier."""
    likely: date | None = None
    """As likely earlier as later; None when it is more likely not within two years."""
    late: date | None = None
    """One chance in ten that it is later; None when that lies beyond two years."""
    chance_in_sight: float = 0.0
    """The chance that it is reached within two years."""
    chance_by: float | None = None
    """The chance that it is reached by the wanted date; None when no date is wanted."""

    def sentence(self) -> str:
        """In words for the player."""
        if self.prospect is Prospect.TOO_LITTLE:
            return f"There is not enough record yet: {LEAST_DAYS} days with a clean pass are needed."
        if self.prospect is Prospect.REACHED:
            return "This tempo is reached."
        by = "" if self.chance_by is None else f" By the wanted date: {_in_ten(self.chance_by)}."
        if self.likely is None or self.early is None:
            return f"At this rate it is not in sight within two years.{by}"
        late = f"{self.late}" if self.late else "more than two years from now"
        return f"About {self.likely}; four chances in five that it is between {self.early} and {late}.{by}"


def forecast(
    days: Sequence[LineDay], target_bpm: float, today: date, chance: random.Random, by: date | None = None
) -> Forecast:
    """The date the record points to.

    Args:
        days: the line's days, oldest first (`reading.line_days`).
        target_bpm: the tempo that is wanted.
        today: the day of practice it is now.
        chance: what the draws are made with; the same state gives the same forecast.
        by: the date the tempo is wanted by.
    """
    points = [(float(x), log(day.best_bpm)) for x, day in enumerate(days) if day.best_bpm]
    if any(day.best_bpm >= target_bpm for day in days):
        return Forecast(Prospect.REACHED, chance_in_sight=1.0, chance_by=None if by is None else 1.0)
    clean = [day.day for day in days if day.best_bpm]
    if len(clean) < LEAST_DAYS or (clean[-1] - clean[0]).days < LEAST_SPAN:
        return Forecast(Prospect.TOO_LITTLE)
    waits = sorted(_waits(points, len(days) - 1, _habit(days, today), log(target_bpm), chance))
    tail = (1 - INTERVAL) / 2
    early, likely, late = (_date(waits, share, today) for share in (tail, 0.5, 1 - tail))
    seen = sum(wait <= HORIZON_DAYS for wait in waits) / len(waits)
    wanted = None if by is None else sum(wait <= (by - today).days for wait in waits) / len(waits)
    return Forecast(Prospect.DATED if likely else Prospect.OUT_OF_SIGHT, early, likely, late, seen, wanted)


def _date(waits: list[float], share: float, today: date) -> date | None:
    wait = waits[min(int(share * len(waits)), len(waits) - 1)]
    return today + timedelta(days=round(wait)) if wait <= HORIZON_DAYS else None


def _habit(days: Sequence[LineDay], today: date) -> tuple[int, int]:
    """Days with practice and days without, lately; days to come, which a wrong clock has written, are neither."""
    span = max(1, min(RECENT_DAYS, (today - days[0].day).days + 1))
    practised = sum(0 <= (today - day.day).days < span for day in days)
    return practised, span - practised


class _Fit(NamedTuple):
    """The posterior for one shape."""

    shape: Shape
    level: float
    slope: float
    root: tuple[float, float, float]
    """Lower triangle of the coefficients' covariance, for a noise of 1."""
    degrees: float
    scale: float
    evidence: float
    """Logarithm, up to a constant."""


def _waits(
    points: list[tuple[float, float]], last: int, habit: tuple[int, int], goal: float, chance: random.Random
) -> list[float]:
    """Draws of the days until the curve reaches `goal`; infinite when it never does."""
    weights = _weights(points)
    fits = [_fit(points, weights, shape) for shape in SHAPES]
    most = max(fit.evidence for fit in fits)
    chosen = chance.choices(fits, [fit.shape.weight * exp(fit.evidence - most) for fit in fits], k=DRAWS)
    waits = []
    for fit in chosen:
        noise = sqrt(fit.scale / chance.gammavariate(fit.degrees, 1.0))
        u, v = chance.gauss(0, 1), chance.gauss(0, 1)
        level = fit.level + noise * fit.root[0] * u
        slope = fit.slope + noise * (fit.root[1] * u + fit.root[2] * v)
        often = chance.betavariate(habit[0] + 0.5, habit[1] + 0.5)
        waits.append(max(0.0, _reaches(level, slope, fit.shape, goal) - last) / max(often, 1e-6))
    return waits


def _reaches(level: float, slope: float, shape: Shape, goal: float) -> float:
    """The day of practice on which the curve reaches `goal`."""
    if goal <= level:
        return 0.0
    if slope <= 0:
        return inf
    rise, size = (goal - level) / slope, shape.size
    if shape.curve is Curve.STEADY:
        return rise
    if shape.curve is Curve.SLOWING:
        return size * expm1(rise / size) if rise < 20 * size else inf
    return -size * log1p(-rise / size) if rise < size else inf


def _basis(x: float, shape: Shape) -> float:
    if shape.curve is Curve.STEADY:
        return x
    return shape.size * (log1p(x / shape.size) if shape.curve is Curve.SLOWING else -expm1(-x / shape.size))


def _weights(points: list[tuple[float, float]]) -> list[float]:
    """How much each day counts: little when it lies far off a curve of a middling shape."""
    weights = [1.0] * len(points)
    for _ in range(4):
        fit = _fit(points, weights, MIDDLING)
        off = [y - fit.level - fit.slope * _basis(x, fit.shape) for x, y in points]
        spread = max(1.4826 * median(map(abs, off)), NOISE / 4)
        weights = [5 / (4 + (r / spread) ** 2) for r in off]
    return weights


def _fit(points: list[tuple[float, float]], weights: list[float], shape: Shape) -> _Fit:
    """Conjugate regression on (1, basis) with prior means (first level, SLOPE_MEAN); 2 x 2 written out."""
    first = median(y for _, y in points[:3])
    p_level, p_slope = (NOISE / LEVEL_SPREAD) ** 2, (NOISE / SLOPE_SPREAD) ** 2
    a, b, c = p_level, 0.0, p_slope
    d, e = p_level * first, p_slope * SLOPE_MEAN
    squares = p_level * first**2 + p_slope * SLOPE_MEAN**2
    for (x, y), w in zip(points, weights, strict=True):
        z = _basis(x, shape)
        a, b, c = a + w, b + w * z, c + w * z * z
        d, e, squares = d + w * y, e + w * z * y, squares + w * y * y
    det = a * c - b * b
    level, slope = (c * d - b * e) / det, (a * e - b * d) / det
    degrees = 2.0 + len(points) / 2
    scale = 2.0 * NOISE**2 + max(0.0, squares - d * level - e * slope) / 2
    root = sqrt(c / det)
    cross = -b / det / root
    rest = sqrt(max(0.0, a / det - cross * cross))
    return _Fit(shape, level, slope, (root, cross, rest), degrees, scale, -0.5 * log(det) - degrees * log(scale))


def _in_ten(share: float) -> str:
    tenths = round(share * 10)
    return {0: "hardly a chance", 10: "almost sure"}.get(tenths, f"{tenths} chances in ten")
