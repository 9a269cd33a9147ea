"""Where exactly an attack begins: the foot of its flank, to a fraction of a millisecond.

What is still ringing can be predicted from its own past; a new attack cannot. The sound before the attack is
therefore predicted away, first by its neighbouring samples (linear prediction), then by the period before (a ringing
string repeats itself), and the foot is the place where the variance of what is left changes most: the likelihood
test by which seismologists pick the first arrival of a wave (Maeda 1985; Akaike's criterion). A floor of a tenth of
the attack's peak keeps the pick's touch, which comes some milliseconds before the string is let go, out of it.
"""

import numpy as np

from trainer.listening.sound import Floats, Sound

BEFORE_S, AFTER_S = 0.010, 0.008
"""How far before and after the rough time the foot is looked for."""
PAST_S = 0.023
"""How much sound before that is used to predict from: two periods of the low E string."""
ORDER = 24
LONGEST_PERIOD_S, SHORTEST_PERIOD_S = 0.0145, 0.00125
TAPS = 5
FLOOR = 0.1


def _neighbour_residual(sound: Floats, past: int) -> Floats:
    """What linear prediction, fitted to the first `past` samples, leaves."""
    fitted = sound[:past] * np.hanning(past)
    correlation = np.correlate(fitted, fitted, "full")[past - 1 : past + ORDER]
    lags = np.abs(np.subtract.outer(np.arange(ORDER), np.arange(ORDER)))
    normal = correlation[lags]
    normal[np.diag_indices(ORDER)] += 1e-5 * correlation[0] + 1e-15
    taps = np.linalg.solve(normal, correlation[1:])
    left = np.convolve(sound, np.concatenate([[1.0], -taps]))[: len(sound)]
    left[: 2 * ORDER] = 0.0
    return left


def _period_residual(sound: Floats, past: int, rate: int) -> Floats:
    """What prediction from one period earlier, fitted to the first `past` samples, leaves."""
    shortest = round(SHORTEST_PERIOD_S * rate)
    longest = min(round(LONGEST_PERIOD_S * rate), past - round(0.008 * rate))
    recent = sound[longest:past]
    products = np.correlate(sound[:past], recent, "valid")[: longest - shortest + 1][::-1]
    energies = np.concatenate([[0.0], np.cumsum(sound[:past] ** 2)])
    lags = np.arange(len(products)) + (longest - (len(products) - 1))
    energy = energies[past - lags] - energies[longest - lags]
    lag = int(lags[np.argmax(products / np.sqrt(energy + 1e-15))])
    half = TAPS // 2
    start = lag + half
    shifted = np.stack([sound[start - lag - k : len(sound) - lag - k] for k in range(-half, half + 1)], axis=1)
    known = shifted[: past - start]
    normal = known.T @ known
    normal[np.diag_indices(TAPS)] *= 1.001
    normal[np.diag_indices(TAPS)] += 1e-15
    taps = np.linalg.solve(normal, known.T @ sound[start:past])
    left = sound.copy()
    left[start:] -= shifted @ taps
    left[:start] = 0.0
    return left


def foot(sound: Sound, rough_s: float, before_s: float = BEFORE_S, after_s: float = AFTER_S) -> float:
    """The foot of the attack near a rough time, in seconds; the rough time itself where there is nothing to see.

    Args:
        sound: the take.
        rough_s: where to look.
        before_s: how far the foot may lie before it.
        after_s: how far after.
    """
    past = round(PAST_S * sound.rate)
    begin = round((rough_s - before_s) * sound.rate) - past
    end = begin + past + round((before_s + after_s) * sound.rate)
    return sound.remembered("foot", begin, end, lambda: _foot(sound, begin, past, end)) or rough_s


def _foot(sound: Sound, begin: int, past: int, end: int) -> float:
    """The foot of the attack in the frames from `begin` to `end`; 0 where there is nothing to see.

    Args:
        sound: the take.
        begin: the first frame that is used to predict from.
        past: how many such frames there are.
        end: where looking ends.
    """
    rate, samples = sound.rate, sound.samples
    search = end - begin - past
    heard = samples[max(begin, 0) : max(end, 0)].astype(float)
    heard = np.pad(heard, (max(-begin, 0), max(end - max(len(samples), begin), 0)))[: past + search]
    if len(heard) < past + search or not np.any(heard):
        return 0.0
    heard /= np.abs(heard).max()
    left = _period_residual(_neighbour_residual(heard, past), past, rate)
    peak = np.abs(left[past:]).max()
    if peak <= 0:
        return 0.0
    start = past - round(0.005 * rate)
    power = left[start:] ** 2 + (FLOOR * peak) ** 2
    total, count = np.cumsum(power), len(power)
    split = np.arange(1, count)
    quiet, loud = total[:-1] / split, (total[-1] - total[:-1]) / (count - split)
    cost = split * np.log(quiet) + (count - split) * np.log(loud)
    first, last = past - start, count - round(0.002 * rate)
    best = first + int(np.argmin(cost[first:last]))
    return (begin + start + best + 1) / rate
