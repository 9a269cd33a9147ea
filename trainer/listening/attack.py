"""Where exactly an attack begins: the foot of its flank, to a fraction of a millisecond.

What is still ringing can be predicted from its own past; a new attack cannot. The sound before the attack is
therefore predicted away, first by its neighbouring samples (linear prediction), then by the period before (a ringing
string repeats itself), and the foot is the place where the variance of what is left changes most: the likelihood
test by which seismologists pick the first arrival of a wave (Maeda 1985; Akaike's criterion). A floor of a quarter of
the attack's peak keeps the pick's touch, which comes some milliseconds before the string is let go, out of it, even
where drive has raised it.

A take is best given with its rate lowered to some 11 kHz: a guitar's sound stands above the noise below 5 kHz, and
whitened beyond that, the noise hides a soft attack.
"""

import numpy as np

from trainer.listening.sound import Floats, Sound

BEFORE_S, AFTER_S = 0.012, 0.006
"""How far before and after the rough time the foot is looked for."""
PAST_S = 0.023
"""How much sound before that is used to predict from: two periods of the low E string."""
ORDER = 24
LONGEST_PERIOD_S, SHORTEST_PERIOD_S = 0.0145, 0.00125
TAPS = 5
FLOOR, FINE_FLOOR, NEAR_S = 0.25, 0.12, 0.0002
"""Shares of the attack's peak below which nothing counts: where the foot is sought, and where, so much earlier at most,
it is placed exactly."""
STRUM_S, LATER_S, NEAREST_S = 0.018, 0.006, 0.0007
"""How far before a chord's strongest change its first string may lie, how much of what follows is its measure, and how
near the two can be told apart."""
CHORD_PAST_S, CHORD_PERIOD_S, CHORD_FLOOR = 0.06, 0.033, 0.12
"""A chord repeats itself with the period that its strings have in common, two or more of the lowest string's; and its
first string may be far softer than the rest."""
NEW_FLOOR, LEAST_NEW = 0.1, 1.9
"""How many times what the past does not foretell must grow: of 136 true extras of recut takes 3 grow less, of 59 places
where distorted strings beat 50."""
SWELL_S, SWELL_PAST_S, SWELL_RISE, SWELL_GAIN = 0.036, 0.05, 2.5, 0.05
"""How far before its foot a swelling attack may begin, the sound before that, and the least that must change there."""
LEAST_RISE, LEAST_GAIN = 1.5, 0.025
"""How many times the power must rise at a first string, and by how many nats a frame that must be likelier."""


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


def _period_residual(sound: Floats, past: int, rate: int, period_s: float) -> Floats:
    """What prediction from one period earlier, of at most `period_s`, fitted to the first `past` samples, leaves."""
    shortest = round(SHORTEST_PERIOD_S * rate)
    longest = min(round(period_s * rate), past - round(0.008 * rate))
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


def foot(
    sound: Sound, rough_s: float, before_s: float = BEFORE_S, after_s: float = AFTER_S, *, slurred: bool = False
) -> float:
    """The foot of the attack near a rough time, in seconds; the rough time itself where there is nothing to see.

    Args:
        sound: the take.
        rough_s: where to look.
        before_s: how far the foot may lie before it.
        after_s: how far after.
        slurred: whether the string is hammered or pulled: no pick touches it before, and it may begin softly.
    """
    past = round(PAST_S * sound.rate)
    begin = round((rough_s - before_s) * sound.rate) - past
    end = begin + past + round((before_s + after_s) * sound.rate)
    name, floor = ("soft foot", FINE_FLOOR) if slurred else ("foot", FLOOR)
    return sound.remembered(name, begin, end, lambda: _foot(sound, begin, past, end, floor)[0]) or rough_s


def rise(sound: Sound, rough_s: float) -> float:
    """How many times the power of what the past does not foretell rises near a rough time.

    A string that is struck makes it rise by 2 and more; strings that beat grow louder without anything new.
    """
    past = round(CHORD_PAST_S * sound.rate)
    begin = round((rough_s - BEFORE_S) * sound.rate) - past
    end = begin + past + round((BEFORE_S + AFTER_S) * sound.rate)
    return sound.remembered("rise", begin, end, lambda: _rise(sound, begin, past, end))


def _rise(sound: Sound, begin: int, past: int, end: int) -> float:
    left = _left(sound, begin, past, end, CHORD_PERIOD_S)
    if left is None:
        return 0.0
    start = past - round(0.005 * sound.rate)
    power = left[start:] ** 2 + (NEW_FLOOR * np.abs(left[past:]).max()) ** 2
    return _change(power, past - start, len(power) - round(0.002 * sound.rate))[2]


def earlier_change(sound: Sound, foot_s: float) -> float:
    """Where an attack that swells up to a foot begins, up to 36 ms before it; the foot itself where nothing begins."""
    past = round(SWELL_PAST_S * sound.rate)
    begin, end = round((foot_s - SWELL_S) * sound.rate) - past, round((foot_s + LATER_S) * sound.rate)
    name = "earlier change"
    return foot_s - sound.remembered(name, begin, end, lambda: _lead(sound, begin, past, foot_s, end))


def _lead(sound: Sound, begin: int, past: int, foot_s: float, end: int) -> float:
    left = _left(sound, begin, past, end)
    if left is None:
        return 0.0
    start = past - round(0.005 * sound.rate)
    power = left[start:] ** 2 + (CHORD_FLOOR * np.abs(left[past:]).max()) ** 2
    until = round(foot_s * sound.rate) - begin - start - round(0.004 * sound.rate)
    best, gain, grows = _change(power[:until], past - start, until - round(0.002 * sound.rate))
    return foot_s - (begin + start + best + 1) / sound.rate if grows > SWELL_RISE and gain > SWELL_GAIN else 0.0


def feet_apart(sound: Sound, foot_s: float) -> float:
    """Seconds between the foot of all but the faintest and that of the strong half of an attack: 0 for a jump."""
    past = round(SWELL_PAST_S * sound.rate)
    begin, end = (round((foot_s + offset) * sound.rate) for offset in (-0.03 - SWELL_PAST_S, 0.03))
    return sound.remembered("feet apart", begin, end, lambda: _feet_apart(sound, begin, past, end))


def _feet_apart(sound: Sound, begin: int, past: int, end: int) -> float:
    left = _left(sound, begin, past, end)
    if left is None:
        return 0.0
    start = past - round(0.005 * sound.rate)
    power, peak = left[start:] ** 2, np.abs(left[past:]).max()
    last = len(power) - round(0.002 * sound.rate)
    soft, strong = (_change(power + (share * peak) ** 2, past - start, last)[0] for share in (0.06, 0.5))
    return max(0.0, (strong - soft) / sound.rate)


def first_string(sound: Sound, foot_s: float) -> float:
    """The foot of a chord's first string, given that of its strongest change; the same time where there is no earlier.

    A strum lets its strings go one after another, and the later ones stand out the more where the first is soft.
    """
    known = round(foot_s * sound.rate)
    begin, end = (known + round(offset * sound.rate) for offset in (-STRUM_S - CHORD_PAST_S, LATER_S))
    return sound.remembered("first string", begin, end, lambda: _first_string(sound, begin, known, end)) or foot_s


def _first_string(sound: Sound, begin: int, known: int, end: int) -> float:
    """The first string's foot in the frames from `begin` to `end`, before the known one; 0 where there is none."""
    past = round(CHORD_PAST_S * sound.rate)
    left = _left(sound, begin, past, end, CHORD_PERIOD_S)
    if left is None:
        return 0.0
    start = past - round(0.005 * sound.rate)
    power = left[start:] ** 2 + (CHORD_FLOOR * np.abs(left[past:]).max()) ** 2
    until = known - begin - start - round(NEAREST_S * sound.rate)
    best, gain, rise = _change(power[:until], past - start, until - round(NEAREST_S * sound.rate))
    return (begin + start + best + 1) / sound.rate if rise > LEAST_RISE and gain > LEAST_GAIN else 0.0


def _left(sound: Sound, begin: int, past: int, end: int, period_s: float = LONGEST_PERIOD_S) -> Floats | None:
    """What prediction from its first `past` frames leaves of a stretch of sound; None where there is nothing."""
    length, samples = end - begin, sound.samples
    heard = samples[max(begin, 0) : max(end, 0)].astype(float)
    heard = np.pad(heard, (max(-begin, 0), max(end - max(len(samples), begin), 0)))[:length]
    if len(heard) < length or not np.any(heard):
        return None
    heard /= np.abs(heard).max()
    left = _period_residual(_neighbour_residual(heard, past), past, sound.rate, period_s)
    return left if np.any(left[past:]) else None


def _change(power: Floats, first: int, last: int) -> tuple[int, float, float]:
    """Where the power changes most between two places, by how many nats a frame, and how many times it rises there."""
    total, count = np.cumsum(power), len(power)
    split = np.arange(1, count)
    quiet, loud = total[:-1] / split, (total[-1] - total[:-1]) / (count - split)
    cost = split * np.log(quiet) + (count - split) * np.log(loud)
    best = first + int(np.argmin(cost[first:last]))
    return best, float(count * np.log(total[-1] / count) - cost[best]) / count, float(loud[best] / quiet[best])


def _foot(sound: Sound, begin: int, past: int, end: int, floor: float) -> tuple[float, float]:
    """The foot of the attack in the frames from `begin` to `end`, and how many times the power rises there.

    Args:
        sound: the take.
        begin: the first frame that is used to predict from.
        past: how many such frames there are.
        end: where looking ends.
        floor: share of the attack's peak below which nothing counts.
    """
    left = _left(sound, begin, past, end)
    if left is None:
        return 0.0, 0.0
    start = past - round(0.005 * sound.rate)
    power, peak = left[start:] ** 2, np.abs(left[past:]).max()
    best, _, rise = _change(power + (floor * peak) ** 2, past - start, len(power) - round(0.002 * sound.rate))
    near = range(max(best - round(NEAR_S * sound.rate), past - start), best + 1)
    best, _, _ = _change(power + (FINE_FLOOR * peak) ** 2, near.start, near.stop)
    return (begin + start + best + 1) / sound.rate, rise
