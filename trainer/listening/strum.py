"""How long a strum takes: from the first string of a two-string chord to the second, where the sound tells.

The second string shows in two ways. Its partials are not there before it: for every time at which it may have begun,
both strings are fitted to the first 30 ms as sums of partials, some dying at once, the second from that time on only,
and what remains is compared. And its pick makes a small attack: the power of what linear prediction leaves rises. The
two together give a likelihood over the times from 0 to 20 ms, and from it a middle and an interval.

On recut takes (see the benchmarks) half of the chords are told, half of those within 1 ms, nine of ten within 4 ms, and
more than four of five lie inside the interval. Of three strings and of octaves nothing is told: there the partials of
one string are those of another, and the middles were no better than a guess. Which of the two strings came first need
not be known: both ways are weighed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from math import ceil

import numpy as np

from trainer.listening.evidence import STIFFNESS, hertz
from trainer.listening.sound import Floats, Ints, Sound

LONGEST_S, STEP_S = 0.02, 0.0005
RATE = 5_500
"""Least frames a second of the sound that partials are fitted to."""
FITTED_S, DIES_S = 0.03, 0.02
HIGHEST_HZ, PARTIALS = 2_200.0, 12
RIDGE = 1e-3
BEFORE_S, AFTER_S = 0.005, 0.045
"""The sound around a chord that linear prediction is fitted to."""
ORDER = 24
PAST_S, NEXT_S = 0.003, 0.0015
"""Between what stretches the power is compared."""
FITS, ATTACKS = 8.0, 2.5
"""Nats by which an e times smaller remainder is likelier, and an e times larger rise; from takes recut otherwise."""
AT_ONCE_S, LOWEST, HIGHEST = 0.0015, -1.0, 4.0
"""Before this the first string's own attack hides the second's; the bounds of what a rise says, in nats."""
SURE = 0.8
WIDEST_MS = 8.0
"""An interval wider than this tells nothing: players' strums are not longer."""


@dataclass(frozen=True, slots=True)
class Strum:
    """From a chord's first string to its last, in milliseconds."""

    ms: float
    low_ms: float
    high_ms: float


def can_be_told(pitches: Sequence[int]) -> bool:
    """Whether a chord is of two strings whose partials are not the same."""
    return len(pitches) == 2 and (pitches[1] - pitches[0]) % 12 != 0


def strum(bright: Sound, dull: Sound, at_s: float, pitches: Sequence[float]) -> Strum | None:
    """How long a chord's strum took, or None where the sound does not tell.

    Args:
        bright: the take at 20 kHz or more.
        dull: the same with its rate lowered to some `RATE`.
        at_s: the foot of its first string.
        pitches: of the two strings, fractions of semitones allowed.
    """
    first, last = round((at_s - 0.012) * bright.rate), round((at_s + AFTER_S) * bright.rate)
    if first < ORDER or last > len(bright.samples):
        return None
    name = "strum " + " ".join(f"{pitch:.1f}" for pitch in pitches)
    return bright.remembered(name, first, last, partial(_strum, bright, dull, at_s, pitches))


def _strum(bright: Sound, dull: Sound, at_s: float, pitches: Sequence[float]) -> Strum | None:
    times = np.arange(0.0, LONGEST_S + STEP_S / 2, STEP_S)
    rises = np.where(times < AT_ONCE_S, 0.0, np.clip(_rises(bright, at_s, times), LOWEST, HIGHEST))
    coarse = times[::2]
    left = [np.interp(times, coarse, np.log(way)) for way in _remainders(dull, at_s, pitches, coarse)]
    nats = ATTACKS * rises - FITS * np.stack(left)
    odds = np.exp(nats - nats.max()).sum(axis=0)
    below = np.cumsum(odds) / odds.sum()
    low, middle, high = (
        1000 * float(times[np.argmax(below >= part)]) for part in ((1 - SURE) / 2, 0.5, (1 + SURE) / 2)
    )
    return Strum(middle, low, high) if high - low <= WIDEST_MS else None


def _partials(pitch: float, times: Floats) -> Floats:
    """Waves of a string's partials, each steady and dying, shape (times, waves)."""
    number = np.arange(1, PARTIALS + 1)
    frequency = number * hertz(pitch) * np.sqrt(1 + STIFFNESS * number**2)
    angle = 2 * np.pi * np.outer(times, frequency[frequency < HIGHEST_HZ])
    steady = np.concatenate([np.cos(angle), np.sin(angle)], axis=1)
    return np.concatenate([steady, steady * np.exp(-times / DIES_S)[:, None]], axis=1)


def _remainders(sound: Sound, at_s: float, pitches: Sequence[float], times: Floats) -> list[Floats]:
    """What two strings leave of a chord's beginning, for every time at which the second may have begun.

    Returns:
        Shape (times,) for the first of the pitches coming first, and for the other.
    """
    begin = ceil(at_s * sound.rate)
    heard = sound.samples[begin : begin + round(FITTED_S * sound.rate)].astype(float)
    heard /= np.sqrt(np.mean(heard**2)) + 1e-12
    seconds = (np.arange(len(heard)) + begin) / sound.rate - at_s
    edges = np.searchsorted(seconds, times)
    one, two = (_partials(pitch, seconds) for pitch in pitches)
    return [_left(heard, *both, edges) for both in ((one, two), (two, one))]


def _left(heard: Floats, one: Floats, two: Floats, edges: Ints) -> Floats:
    """What waves from the beginning on and others from each of some frames on leave of a sound, a mean square.

    The later waves are taken from the end backwards, so that the products with them only grow.
    """
    count = len(heard)
    normal = one.T @ one
    normal[np.diag_indices(len(normal))] += RIDGE * count
    solved = np.linalg.inv(normal)
    mine = one.T @ heard
    products = np.zeros((len(edges), two.shape[1], two.shape[1]))
    asked = np.zeros((len(edges), two.shape[1]))
    own, cross, with_heard = np.zeros(products.shape[1:]), np.zeros((one.shape[1], two.shape[1])), asked[0].copy()
    end = count
    for place in range(len(edges) - 1, -1, -1):
        piece = slice(edges[place], end)
        own += two[piece].T @ two[piece]
        cross += one[piece].T @ two[piece]
        with_heard += two[piece].T @ heard[piece]
        end = edges[place]
        through = solved @ cross
        products[place] = own - cross.T @ through
        asked[place] = with_heard - through.T @ mine
    diagonal = np.arange(two.shape[1])
    products[:, diagonal, diagonal] += RIDGE * count
    levels = np.linalg.solve(products, asked[:, :, None])[:, :, 0]
    left = heard @ heard - mine @ solved @ mine - (levels * asked).sum(axis=1)
    return np.asarray(np.maximum(left, 1e-9) / count)


def _rises(sound: Sound, at_s: float, times: Floats) -> Floats:
    """By how many nats the unpredicted power rises at each of some times after the foot."""
    first, last = round((at_s - BEFORE_S) * sound.rate), round((at_s + AFTER_S) * sound.rate)
    fitted = sound.samples[first:last].astype(float) * np.hanning(last - first)
    correlation = np.correlate(fitted, fitted, "full")[len(fitted) - 1 : len(fitted) + ORDER]
    lags = np.abs(np.subtract.outer(np.arange(ORDER), np.arange(ORDER)))
    normal = correlation[lags]
    normal[np.diag_indices(ORDER)] += 1e-5 * correlation[0] + 1e-15
    taps = np.concatenate([[1.0], -np.linalg.solve(normal, correlation[1:])])
    begin, end = round((at_s - 0.012) * sound.rate), round((at_s + 0.032) * sound.rate)
    left = np.convolve(sound.samples[begin - ORDER : end].astype(float), taps)[ORDER : ORDER + end - begin]
    power = left * left
    total = np.concatenate([[0.0], np.cumsum(power)])
    past, following = round(PAST_S * sound.rate), round(NEXT_S * sound.rate)
    at = np.arange(past, len(power) - following)
    floor = np.percentile(power, 30) + 1e-12
    after = (total[at + following] - total[at]) / following + floor
    before = (total[at] - total[at - past]) / past + floor
    rises = np.log(after / before)
    here = np.round((at_s + times) * sound.rate).astype(int) - begin - past
    reach = max(1, round(0.0003 * sound.rate))
    near = here[:, None] + np.arange(-reach, reach + 1)
    return np.asarray(rises[np.clip(near, 0, len(rises) - 1)].max(axis=1))
