"""Whether what the tool played is in a take, and how late: a waveform found again, not a rhythm.

Guitars that play together share rhythm and pitches, and so their sounds agree here and there at many delays. A
microphone that hears the loop agrees with it at one delay, in every part of the pass. So the delay is looked for in
the whole and in each half, and must be the same, or nearly so where each half is sure by itself. Only differences
between neighbouring samples are compared, at about 11 kHz, half whitened, over at most 20 seconds.
"""

import numpy as np

from trainer.listening.sound import Floats, Sound

COARSE_RATE = 11_000
LONGEST_S = 20.0
LATEST_S = 1.5
STANDS_OUT, HALF_STANDS_OUT = 14.0, 9.0
"""How far the delay stands over the mean of the correlation, in the whole and in each half: music in the same tempo
reaches 19 in the whole, at another delay in each half (`tests/benchmarks/loop_in_microphone.py`)."""
SAME_S = 0.0012
"""Delays that are closer are one; what lies between is the loudspeaker's and the room's."""
JUMP_S, HALF_SURE = 0.03, 20.0
"""A sound server that stumbles in mid-pass moves what follows by some milliseconds: halves that stand out this far each
may lie so far apart. Other music reaches 20 in one half, hardly 12 in both."""
SILENT = 0.02
"""A half with less than this share of the loop's energy has no say."""


def loop_lag(take: Sound, loop: Sound, earliest_s: float = 0.0, latest_s: float = LATEST_S) -> float | None:
    """How many seconds into the take the loop begins; None where it is not surely there.

    Args:
        take: what was recorded.
        loop: what was played meanwhile.
        earliest_s: where it may begin in the take at the earliest.
        latest_s: and at the latest.
    """
    low, low_loop = take.lowered(COARSE_RATE), loop.lowered(COARSE_RATE)
    rate = low.rate
    if rate != low_loop.rate:
        return None
    heard, played = (np.diff(sound.samples[: round(LONGEST_S * rate)]).astype(float) for sound in (low, low_loop))
    first, last = max(0, round(earliest_s * rate)), round(latest_s * rate)
    if not (np.any(heard) and np.any(played)) or last <= first:
        return None
    best, score = _best(heard, played, first, last)
    middle, energy = len(played) // 2, float(played @ played)
    halves = [
        (found - begin, stands)
        for begin, half in ((0, played[:middle]), (middle, played[middle:]))
        if float(half @ half) >= SILENT * energy
        for found, stands in [_best(heard, half, begin + first, begin + last)]
    ]
    lags = [lag for lag, _ in halves]
    least = min((stands for _, stands in halves), default=0.0)
    if score >= STANDS_OUT and least >= HALF_STANDS_OUT and all(abs(lag - best) <= SAME_S * rate for lag in lags):
        return best / rate
    if len(lags) == 2 and least >= HALF_SURE and abs(lags[1] - lags[0]) <= JUMP_S * rate:
        return lags[0] / rate
    return None


def _best(heard: Floats, played: Floats, first: int, last: int) -> tuple[int, float]:
    """The lag in frames at which they agree best, and how far that stands over the mean of all lags."""
    size = 1 << (len(heard) + len(played)).bit_length()
    spectrum = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(played, size))
    spectrum /= np.sqrt(np.abs(spectrum)) + 1e-12
    product = np.abs(np.fft.irfft(spectrum, size))
    possible = product[first : last + 1]
    best = int(np.argmax(possible))
    return first + best, float(possible[best] / (np.sqrt(np.mean(product**2)) + 1e-30))
