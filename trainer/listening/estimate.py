"""Robust estimates with intervals: a middle, how sure it is, and whether it lies beyond a band."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import erf, exp, inf, sqrt
from operator import itemgetter
from statistics import NormalDist, median

import numpy as np

from trainer.listening.sound import Ints

MAD_TO_SD = 1.4826
"""Median absolute deviation to standard deviation, of a normal spread."""
CENTRE_COST = 1.03
"""How much wider the centre's standard error is than a mean's, of a normal spread (efficiency 0.955)."""
PAIRS_TO_SD, SD_COST = 2.2219, 0.78
"""The first quarter of all pairs' distances to standard deviation, and its own standard error as a share of it over
the root of their number (Rousseeuw & Croux 1993, JASA 88:1273: efficiency 0.82), of a normal spread."""
LARGEST_EXPONENT = 50.0
"""Of two observations nothing is known; this keeps it a number."""
SURE_STEP = 3.5
"""Standard errors by which the values from a bar on must differ from those before."""
MANY = 100
"""Values from which on numpy is the quicker way to a median."""
MOST_PAIRED = 120
"""Observations of which all pairs are looked at; of more, every few."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with its interval."""

    value: float
    low: float
    high: float
    count: int
    """How many observations it is from."""

    def beyond(self, edge: float) -> bool:
        """Whether the whole interval lies outside ± `edge`: the only ground for a claim."""
        return self.low > edge or self.high < -edge

    def within(self, edge: float) -> bool:
        """Whether the whole interval lies inside ± `edge`."""
        return -edge < self.low and self.high < edge

    def __sub__(self, other: "Estimate") -> "Estimate":
        """The difference of two independent figures."""
        half = sqrt(((self.high - self.low) ** 2 + (other.high - other.low) ** 2) / 4)
        value = self.value - other.value
        return Estimate(value, value - half, value + half, min(self.count, other.count))


def robust_spread(values: Sequence[float]) -> float:
    """Standard deviation around the median, estimated from the median absolute deviation; 0 for fewer than two."""
    if len(values) < 2:
        return 0.0
    if len(values) < MANY:
        middle = median(values)
        return MAD_TO_SD * median(abs(value - middle) for value in values)
    many = np.asarray(values, dtype=float)
    return MAD_TO_SD * float(np.median(np.abs(many - np.median(many))))


def scatter(values: Sequence[float], confidence: float = 0.95) -> Estimate:
    """Standard deviation with its interval, from the distances of all pairs: a third of wild values does not move it.

    The estimator is Qn of Rousseeuw & Croux (1993), with their correction for few values.
    """
    count = len(values)
    if count < 2:
        return Estimate(0.0, 0.0, inf, count)
    step = -(-count // MOST_PAIRED)
    some = np.asarray(values[::step], dtype=float)
    first, second = _pairs(len(some), 1)
    distances = np.sort(np.abs(some[first] - some[second]))
    half = len(some) // 2 + 1
    few = len(some) / (len(some) + (1.4 if len(some) % 2 else 3.8))
    value = PAIRS_TO_SD * few * float(distances[half * (half - 1) // 2 - 1])
    factor = exp(min(LARGEST_EXPONENT, quantile(confidence, count) * SD_COST / sqrt(len(some))))
    return Estimate(value, value / factor, value * factor, count)


def quantile(confidence: float, count: int) -> float:
    """How many standard errors an interval reaches, for few observations too.

    Student's quantile by its expansion around the normal one (Abramowitz & Stegun 26.7.5), good to 2 % from 3
    observations on.
    """
    if count < 2:
        return inf
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    nu = count - 1
    return (
        z
        + (z**3 + z) / (4 * nu)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * nu**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * nu**3)
    )


def centre(values: Sequence[float]) -> float:
    """The median of the means of all pairs (Hodges & Lehmann 1963): a third of wild values does not move it far."""
    step = -(-len(values) // MOST_PAIRED)
    return _centre(tuple(values[::step]))


@lru_cache(maxsize=512)
def _centre(values: tuple[float, ...]) -> float:
    """The same of few values; a take's groups are asked for twice, for what is shown and for what is claimed."""
    some = np.asarray(values, dtype=float)
    first, second = _pairs(len(some), 0)
    return float(np.median((some[first] + some[second]) / 2))


@lru_cache(maxsize=64)
def _pairs(count: int, apart: int) -> tuple[Ints, Ints]:
    """The indices of all pairs of so many values, at least so far apart."""
    first, second = np.triu_indices(count, apart)
    return first, second


def middle(values: Sequence[float], spread: float, confidence: float = 0.95) -> Estimate:
    """The centre of some values, with an interval from a spread known from more of them.

    Args:
        values: the observations.
        spread: their standard deviation as the whole take shows it; few values tell little of their own spread.
        confidence: of the interval.
    """
    if not values:
        return Estimate(0.0, -inf, inf, 0)
    value = centre(values)
    own = robust_spread(values) if len(values) >= 8 else 0.0
    half = quantile(confidence, len(values)) * CENTRE_COST * max(own, spread) / sqrt(len(values))
    return Estimate(value, value - half, value + half, len(values))


def step_from(values: Sequence[tuple[int, float]], noise: float, edge: float) -> int:
    """From which bar on values lie farther from nought: the first, unless a later one parts them plainly.

    Args:
        values: each with its bar, in any order.
        noise: by how much they scatter.
        edge: the least difference that is worth a bar.
    """
    ordered = sorted(values, key=itemgetter(0))
    off = [value for _, value in ordered]
    best, gain = ordered[0][0], 0.0
    for first in range(3, len(off) - 2):
        bar = ordered[first][0]
        if bar == ordered[first - 1][0]:
            continue
        before, after = off[:first], off[first:]
        sure = SURE_STEP * noise * (1 / len(before) + 1 / len(after)) ** 0.5
        far = abs(centre(after))
        if far <= max(sure, edge):
            continue
        step = far - abs(centre(before))
        if step > max(sure, edge) and step / sure > gain:
            best, gain = bar, step / sure
    return best


def slope(x: Sequence[float], y: Sequence[float]) -> float:
    """Median of the slopes between all pairs (Theil 1950, Sen 1968); 0 for fewer than two."""
    first, second = _pairs(len(x), 1)
    across, up = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    run = across[second] - across[first]
    slopes = (up[second] - up[first])[run != 0] / run[run != 0]
    return float(np.partition(slopes, len(slopes) // 2)[len(slopes) // 2]) if len(slopes) else 0.0


def chance(sds: float) -> float:
    """Probability that a normal deviation is farther out than so many standard deviations, either side."""
    return 1.0 - erf(sds / sqrt(2))
