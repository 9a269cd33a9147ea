"""Which heard attack is which written stroke: the best explanation of the whole take at once.

Both lists are in time order and so are their matches (monotone). A written stroke may be missed, a heard attack may
be nobody's. Each choice has a score in nats, a log odds against "nothing is here"; the sum over the take is made
greatest by dynamic programming. Where the take begins is unknown: several starts, and a few tempos around the
written one, are found by correlation and tried. Once followed, the player's slow drift becomes the new
expectation and the take is explained again, more sharply.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trainer.listening.sound import Floats, Ints
from trainer.listening.strength import Strength

PLAYED_ODDS = 3.0
"""log(0.95 / 0.05): one stroke in twenty is missed by somebody who is learning."""
EXTRA_RATE = 0.5
"""Attacks a second that nobody wrote."""
WIDE_S, SHARP_S, FINE_S = 0.035, 0.022, 0.010
"""Spread of a player around the expectation: at first, once the drift is known, and the least ever assumed."""
TAIL = 8.0
"""Degrees of freedom of the spread (Student): a late note is more likely than a Gaussian says."""
REACH_S = 0.25
"""No stroke is looked for farther from where it is expected."""
STARTS = 6
RATES = (1.0, 0.98, 1.02, 0.96, 1.04)
DRIFT_STROKES = 9
"""Strokes on each side that the drift is a median of."""

Rows = Callable[[int, Ints], Floats]
"""Score in nats of a stroke being each of some attacks, apart from their times."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """The best explanation found."""

    attack: Ints
    """For each stroke the attack it is, or -1 when it was missed."""
    expected: Floats
    """For each stroke the second of the take at which it was expected, drift included."""
    score: float
    rate: float
    """Seconds of the take for each written second."""
    start_s: float
    """Second of the take at which the written part's beginning falls (median over the matches)."""


def _time_score(deviation: Floats, spread: float) -> Floats:
    """Log odds of one player's deviation against an attack of nobody's."""
    peak = np.log(0.375 / (spread * EXTRA_RATE))
    return np.asarray(peak - 0.5 * (TAIL + 1) * np.log1p((deviation / spread) ** 2 / TAIL))


def best_path(expected: Floats, times: Floats, spread: float, rows: Rows) -> tuple[Ints, float]:
    """The monotone matching with the greatest score, for strokes expected at given times.

    Returns:
        For each stroke its attack or -1, and the score.
    """
    count, width = len(expected), len(times)
    best = np.zeros(width + 1)
    took = np.zeros((count, width + 1), bool)
    origin = np.zeros((count, width + 1), np.int32)
    first = np.searchsorted(times, expected - REACH_S)
    last = np.searchsorted(times, expected + REACH_S)
    for stroke in range(count):
        near = np.arange(first[stroke], last[stroke])
        here = best.copy()
        if len(near):
            gain = _time_score(times[near] - expected[stroke], spread) + rows(stroke, near) + PLAYED_ODDS
            reached = best[near] + gain
            better = reached > here[near + 1]
            here[near[better] + 1] = reached[better]
            took[stroke, near[better] + 1] = True
        running = np.maximum.accumulate(here)
        kept = here >= running
        origin[stroke] = np.maximum.accumulate(np.where(kept, np.arange(width + 1), 0))
        best = running
    attack = np.full(count, -1)
    column = width
    for stroke in range(count - 1, -1, -1):
        column = int(origin[stroke, column])
        if took[stroke, column]:
            column -= 1
            attack[stroke] = column
    return attack, float(best[-1])


def likely_starts(strength: Strength, written: Floats, rates: tuple[float, ...] = RATES) -> list[tuple[float, float]]:
    """Starts and rates at which the written strokes fall on heard attacks best, best first.

    The strength, blurred by a player's spread, is correlated with the written strokes as a whole.

    Returns:
        Pairs of (start in seconds, rate), at least 20 ms apart.
    """
    hop = strength.hop_s
    width = int(0.06 / hop)
    blur = np.exp(-0.5 * (np.arange(-width, width + 1) * hop / 0.02) ** 2)
    cap = np.percentile(strength.values, 98) + 1e-12
    heard = np.convolve(np.minimum(strength.values, cap) / cap, blur / blur.sum(), "same")
    heard -= heard.mean()
    found: list[tuple[float, float, float]] = []
    for rate in rates:
        places = np.round(written * rate / hop).astype(int)
        comb = np.bincount(places, minlength=places[-1] + 1).astype(float)
        size = 1 << (len(heard) + len(comb) - 1).bit_length()
        product = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(comb, size)), size)
        lags = np.concatenate([np.arange(len(heard)), np.arange(-len(comb), 0)])
        values = product[lags] / len(written)
        values *= 1.0 - 0.2 * abs(rate - 1.0)
        order = np.argsort(values)[::-1][: 40 * STARTS]
        taken: list[float] = []
        for index in order:
            start = float(lags[index] * hop)
            if all(abs(start - other) > 0.04 for other in taken):
                taken.append(start)
                found.append((float(values[index]), start, rate))
            if len(taken) >= STARTS:
                break
    found.sort(reverse=True)
    return [(start, rate) for _, start, rate in found[: 2 * STARTS]]


def drift(written: Floats, deviation: Floats, known: npt.NDArray[np.bool_]) -> Floats:
    """The slow part of the deviations at every stroke: running medians over the known ones, joined by lines."""
    at = np.flatnonzero(known)
    if len(at) < 4:
        return np.full(len(written), float(np.median(deviation[at])) if len(at) else 0.0)
    reach = min(DRIFT_STROKES, max(2, len(at) // 4))
    values = deviation[at]
    middle = np.array([np.median(values[max(0, k - reach) : k + reach + 1]) for k in range(len(at))])
    kernel = np.ones(2 * reach + 1)
    smooth = np.convolve(np.pad(middle, reach, mode="edge"), kernel / kernel.sum(), "valid")
    return np.interp(written, written[at], smooth)


def align(
    written: Floats, times: Floats, rows: Rows, starts: list[tuple[float, float]], spread_s: float = WIDE_S
) -> Alignment:
    """The best explanation over several starts, its drift followed.

    Args:
        written: strokes in seconds from the part's beginning.
        times: attacks in seconds of the take.
        rows: score of a stroke being each of some attacks, apart from time.
        starts: pairs of (start, rate) to try.
        spread_s: the spread of the first trial.
    """
    tried = []
    for start, rate in starts:
        expected = start + written * rate
        attack, score = best_path(expected, times, spread_s, rows)
        tried.append((score, start, rate, attack))
    tried.sort(key=lambda trial: -trial[0])
    best: Alignment | None = None
    for _, start, rate, first in tried[:3]:
        attack, expected, score = first, start + written * rate, 0.0
        for _ in range(3):
            known = attack >= 0
            deviation = np.where(known, times[attack] - start - written * rate, 0.0)
            slow = drift(written, deviation, known)
            expected = start + written * rate + slow
            rest = (deviation - slow)[known]
            spread = float(np.median(np.abs(rest))) * 1.48 if len(rest) else SHARP_S
            attack, score = best_path(expected, times, float(np.clip(spread, FINE_S, WIDE_S)), rows)
        known = attack >= 0
        shift = float(np.median((times[attack] - written * rate)[known])) if known.any() else start
        candidate = Alignment(attack, expected, score, rate, shift)
        if best is None or candidate.score > best.score:
            best = candidate
    if best is None:
        raise ValueError("An alignment needs at least one start to try.")
    return best
