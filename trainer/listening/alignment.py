"""Which heard attack is which written stroke: the best explanation of the whole take at once.

Both lists are in time order and so are their matches (monotone). A written stroke may be missed, a heard attack may
be nobody's. Each choice has a score in nats, a log odds against "nothing is here"; the sum over the take is made
greatest by dynamic programming. Where the take begins is unknown: several starts, and a few tempos around the
written one, are found by votes and tried. Once followed, the player's slow drift becomes the new
expectation and the take is explained again, more sharply.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trainer.listening.sound import Floats, Ints

PLAYED_ODDS = 3.0
"""log(0.95 / 0.05): one stroke in twenty is missed by somebody who is learning."""
EXTRA_RATE = 0.5
"""Attacks a second that nobody wrote."""
WIDE_S, SHARP_S, FINE_S = 0.035, 0.022, 0.015
"""Spread of a player around the expectation: at first, once the drift is known, and the least ever assumed."""
TAIL = 8.0
"""Degrees of freedom of the spread (Student): a late note is more likely than a Gaussian says."""
REACH_S = 0.25
"""No stroke is looked for farther from where it is expected."""
BEGINS = 4.0
"""Nats for a take that begins with the part's first or second stroke; a house rule for riffs that repeat themselves."""
STARTS = 6
VOTE_S, BLUR_S, APART_S = 0.005, 0.02, 0.04
MOST_VOTERS = 200
"""Strokes of a long part that vote for the start; more would say the same."""
RATES = (1.0, 0.98, 1.02, 0.96, 1.04)
END_STROKES = 200
"""Strokes at each end of a long part by which starts are compared: where the part begins shows at its ends."""
DRIFT_STROKES = 9
"""Strokes on each side that the drift is a median of."""

Rows = Callable[[Ints, Ints], Floats]
"""Scores in nats of strokes being attacks, apart from their times; of as many strokes as attacks, pair by pair."""


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


def _time_score(deviation: Floats, spread: float, tail: float) -> Floats:
    """Log odds of one player's deviation against an attack of nobody's."""
    peak = np.log(0.375 / (spread * EXTRA_RATE))
    return np.asarray(peak - 0.5 * (tail + 1) * np.log1p((deviation / spread) ** 2 / tail))


def best_path(expected: Floats, times: Floats, rows: Rows, spread: float, tail: float = TAIL) -> tuple[Ints, float]:
    """The monotone matching with the greatest score, for strokes expected at given times.

    Only attacks near to where a stroke is expected are looked at, so that a long take costs no more a stroke than a
    short one: `best` is the score over the attacks from `low` on; farther ones cannot have been matched yet.

    Returns:
        For each stroke its attack or -1, and the score.
    """
    first = np.maximum.accumulate(np.searchsorted(times, expected - REACH_S))
    last = np.maximum.accumulate(np.searchsorted(times, expected + REACH_S))
    counts = last - first
    strokes = np.repeat(np.arange(len(expected)), counts)
    near = np.arange(len(strokes)) + np.repeat(first - np.cumsum(counts) + counts, counts)
    gains = _time_score(times[near] - expected[strokes], spread, tail) + rows(strokes, near) + PLAYED_ODDS
    gain = iter(gains.tolist())
    low, best = 0, [0.0]
    steps: list[tuple[int, list[bool], list[int]]] = []
    for begin, end in zip(first.tolist(), last.tolist(), strict=True):  # a few attacks each: lists are quicker here
        unmatched = best[begin - low : end - low + 1]
        unmatched += [best[-1]] * (end - begin + 1 - len(unmatched))
        top, origin = unmatched[0], begin
        best, took, origins = [top], [False], [begin]
        for column in range(1, len(unmatched)):
            here, reached = unmatched[column], unmatched[column - 1] + next(gain)
            took.append(reached > here)
            here = max(here, reached)
            if here >= top:
                top, origin = here, begin + column
            best.append(top)
            origins.append(origin)
        steps.append((begin, took, origins))
        low = begin
    attack = np.full(len(expected), -1)
    column = low + len(best) - 1
    for stroke in range(len(expected) - 1, -1, -1):
        begin, took, origin = steps[stroke]
        if column < begin:
            continue
        column = origin[min(column - begin, len(origin) - 1)]
        if took[column - begin]:
            column -= 1
            attack[stroke] = column
    return attack, best[-1]


def likely_starts(
    written: Floats, times: Floats, rows: Rows, rates: tuple[float, ...] = RATES
) -> list[tuple[float, float]]:
    """Starts and rates at which most strokes fall on attacks that may be theirs, best first.

    Every pair of a stroke and an attack votes for the start that would make them meet, by how likely they are one;
    the votes are blurred by a player's spread.

    Returns:
        Pairs of (start in seconds, rate), starts of one rate at least 40 ms apart.
    """
    voters = np.unique(np.linspace(0, len(written) - 1, min(len(written), MOST_VOTERS)).astype(int))
    every = np.arange(len(times))
    weights = np.concatenate([np.exp(np.minimum(rows(np.full(len(every), stroke), every), 0.0)) for stroke in voters])
    blur = np.exp(-0.5 * (np.arange(-12, 13) * VOTE_S / BLUR_S) ** 2)
    found: list[tuple[float, float, float]] = []
    for rate in rates:
        starts = (times[None, :] - rate * written[voters, None]).ravel()
        lowest = float(starts.min())
        votes = np.bincount(np.round((starts - lowest) / VOTE_S).astype(int), weights)
        blurred = np.convolve(votes, blur, "same") * (1.0 - 0.2 * abs(rate - 1.0))
        taken: list[float] = []
        for index in np.argsort(blurred)[::-1][: 40 * STARTS]:
            start = lowest + float(index) * VOTE_S
            if all(abs(start - other) > APART_S for other in taken):
                taken.append(start)
                found.append((float(blurred[index]), start, rate))
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
    wide = np.pad(values, reach, mode="reflect") if len(values) > reach else np.pad(values, reach, mode="edge")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(wide, 2 * reach + 1), axis=1)
    kernel = np.ones(2 * reach + 1)
    smooth = np.convolve(np.pad(middle, reach, mode="edge"), kernel / kernel.sum(), "valid")
    return np.interp(written, written[at], smooth)


def _begun(attack: Ints) -> float:
    """What speaks for a start by itself: players begin at the beginning far more often than in the middle."""
    return BEGINS if (attack[:2] >= 0).any() else 0.0


def align(
    written: Floats,
    times: Floats,
    rows: Rows,
    starts: list[tuple[float, float]] | None = None,
    *,
    tail: float = TAIL,
    fine_s: float = FINE_S,
) -> Alignment:
    """The best explanation over several starts, its drift followed.

    Args:
        written: strokes in seconds from the part's beginning.
        times: attacks in seconds of the take.
        rows: scores of strokes being attacks, apart from time.
        starts: pairs of (start, rate) to try; None looks everywhere.
        tail: degrees of freedom of the player's spread.
        fine_s: the least spread ever assumed.
    """
    tried = []
    if starts is None:
        starts = likely_starts(written, times, rows) if len(times) else []
    ends = np.arange(len(written))
    if len(ends) > 2 * END_STROKES:
        ends = np.concatenate([ends[:END_STROKES], ends[-END_STROKES:]])
    for start, rate in starts:
        attack, score = best_path(
            start + written[ends] * rate, times, lambda strokes, near: rows(ends[strokes], near), WIDE_S, tail
        )
        tried.append((score + _begun(attack), start, rate))
    tried.sort(key=lambda trial: -trial[0])
    best: Alignment | None = None
    for _, start, rate in tried[: 3 if len(ends) == len(written) else 2]:
        expected = start + written * rate
        attack, score = best_path(expected, times, rows, WIDE_S, tail)
        for _ in range(3):
            known = attack >= 0
            deviation = np.where(known, times[attack] - start - written * rate, 0.0)
            slow = drift(written, deviation, known)
            expected = start + written * rate + slow
            rest = (deviation - slow)[known]
            spread = float(np.median(np.abs(rest))) * 1.48 if len(rest) else SHARP_S
            before = attack
            attack, score = best_path(expected, times, rows, float(np.clip(spread, fine_s, WIDE_S)), tail)
            if np.array_equal(attack, before):  # once more would ask the same
                break
        known = attack >= 0
        shift = float(np.median((times[attack] - written * rate)[known])) if known.any() else start
        candidate = Alignment(attack, expected, score + _begun(attack), rate, shift)
        if best is None or candidate.score > best.score:
            best = candidate
    if best is None:
        return Alignment(np.full(len(written), -1), written, 0.0, 1.0, 0.0)
    return best
