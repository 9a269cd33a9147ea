"""The gallop's long to short, figure by figure: how even it is, and from which bar on it flattens.

The long note is measured to the next stroke, and so are the short ones; the last of a figure needs a stroke after it. A
2:1 rhythm drifts towards equal as the tempo rises (Repp, London & Keller 2011), so it is the ratio that tells.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log, sqrt
from statistics import median

from trainer.listening.estimate import CENTRE_COST, Estimate, centre, middle, quantile, robust_spread
from trainer.listening.performance import PlayedStroke
from trainer.listening.written import GallopNote

LEAST_FIGURES = 3


@dataclass(frozen=True, slots=True)
class Gallop:
    """The whole figures of a take that are written alike."""

    written: float
    """Long to short as written: 2.0, and 4.0 in triplet time."""
    logs: tuple[tuple[int, float], ...]
    """For each figure its bar, and the logarithm of its long to short over what is written; 0 is as written."""
    noise: float
    """By how much those scatter."""

    def ratio(self, confidence: float, since: int = 0) -> Estimate:
        """Long to short from a bar on, as a geometric middle."""
        told = middle([value for bar, value in self.logs if bar >= since], self.noise, confidence)
        low, high = (exp(min(value, 20.0)) * self.written for value in (told.low, told.high))
        return Estimate(exp(told.value) * self.written, low, high, told.count)

    @property
    def bars(self) -> int:
        """How many bars hold a figure."""
        return len({bar for bar, _ in self.logs})

    def by_bar(self, least: int, confidence: float) -> dict[int, Estimate]:
        """Long to short of each bar with at least so many figures; how sure it is comes from the whole take's scatter.

        Args:
            least: figures that a bar must hold.
            confidence: of each interval.
        """
        half = quantile(confidence, len(self.logs)) * CENTRE_COST * self.noise
        found: dict[int, Estimate] = {}
        for bar in sorted({bar for bar, _ in self.logs}):
            values = [value for each, value in self.logs if each == bar]
            if len(values) >= least:
                value, off = centre(values), half / sqrt(len(values))
                low, high = (exp(min(edge, 20.0)) * self.written for edge in (value - off, value + off))
                found[bar] = Estimate(exp(min(value, 20.0)) * self.written, low, high, len(values))
        return found


def gallop(strokes: Sequence[PlayedStroke], spread_ms: float) -> Gallop | None:
    """The gallops of a take, of the more frequent kind where a riff holds two; None for fewer than three.

    Args:
        strokes: of the whole take.
        spread_ms: by how much single strokes scatter.
    """
    found: list[tuple[float, int, float, float]] = []
    for figure in figures_of(strokes):
        if all(item.deviation_ms is not None for item in figure):
            written = [float(item.stroke.at) * 1000 for item in figure]
            played = [at + (item.deviation_ms or 0.0) for at, item in zip(written, figure, strict=True)]
            asked, done = _ratio(written, figure), _ratio(played, figure)
            if asked and done:
                noise = spread_ms * _noise(written, asked)
                found.append((round(asked, 2), figure[0].stroke.bar, log(done / asked), noise))
    kinds = Counter(asked for asked, *_ in found).most_common(1)
    if not kinds or kinds[0][1] < LEAST_FIGURES:
        return None
    same = [each for each in found if each[0] == kinds[0][0]]
    logs = tuple((bar, value) for _, bar, value, _ in same)
    noise = max(robust_spread(_around_bars(logs)), median(each[3] for each in same))
    return Gallop(kinds[0][0], logs, noise)


def _around_bars(logs: Sequence[tuple[int, float]]) -> list[float]:
    """Each figure's logarithm from the middle of its own bar's, so that a bar that flattens is no noise."""
    bars: dict[int, list[float]] = {}
    for bar, value in logs:
        bars.setdefault(bar, []).append(value)
    return [value - median(bars[bar]) for bar, value in logs]


def figures_of(strokes: Sequence[PlayedStroke]) -> Iterable[tuple[PlayedStroke, ...]]:
    """Each whole gallop, forward or reverse, as its three strokes and the one that follows at once."""
    index = 0
    while index + 3 < len(strokes):
        three = strokes[index : index + 3]
        roles = "".join(_role(item.stroke.figure) for item in three)
        if roles not in {"LFS", "FSL"}:
            index += 1
            continue
        last, following = three[2].stroke, strokes[index + 3].stroke
        if float(following.at - last.at) <= 1.01 * float(last.length):
            yield (*three, strokes[index + 3])
        index += 3


def _role(figure: GallopNote) -> str:
    return "L" if figure.is_long else "F" if figure.is_first else "S" if figure.is_second else "-"


def _ratio(at: Sequence[float], figure: Sequence[PlayedStroke]) -> float:
    """Long to short of three strokes and the one after them; 0 where they do not follow each other."""
    lengths = [b - a for a, b in pairwise(at)]
    long = next(length for length, item in zip(lengths, figure, strict=False) if item.stroke.figure.is_long)
    short = (sum(lengths) - long) / 2
    return long / short if long > 0 and short > 0 else 0.0


def _noise(at: Sequence[float], ratio: float) -> float:
    """By how much the logarithm of a ratio scatters for each millisecond that its strokes scatter.

    Few figures tell little of their own scatter; the strokes of the whole take tell it: the four onsets of a figure
    are off independently, and the one between long and short counts in both.
    """
    short = (at[-1] - at[0]) / (ratio + 2)
    long_share, short_share = 1 / (ratio * short), 1 / (2 * short)
    return sqrt((long_share + short_share) ** 2 + long_share**2 + short_share**2)
