"""A picked string of an electric guitar or bass, up to the loudspeaker.

The string is a loop of one period of delay with a loss in it (Karplus & Strong 1983; Jaffe & Smith 1983, Computer Music
Journal 7:56). The loss filter is symmetric, so it delays nothing, and the rate is chosen so that a period is a whole
number of frames: the pitch is exact and the overtones are harmonic, whatever is done to the signal afterwards.
"""

import math
from dataclasses import dataclass
from random import Random

import numpy as np
from filters import Section, Signal, all_pass, falling, filtered, high_pass, low_pass, peak, saturated


@dataclass(frozen=True, slots=True)
class StringSound:
    """How a string is picked, damped and heard."""

    rate_hz: float
    """The sample rate is near this."""
    pick_at: float
    """Where the pick meets the string, as a fraction of its length from the bridge."""
    pick_hz: float
    """What the pick leaves of the high overtones: a sharp pick 6,000, a finger 900."""
    pick_noise: float
    """The pick's scrape, against the string's 1."""
    pickup_at: float
    """Where the pickup is, as a fraction from the bridge, of an open string."""
    ring_s: float
    """Seconds in which the fundamental of key 40 falls by 60 dB."""
    ring_high_s: float
    """The same for overtones around 4 kHz."""
    amp: str = "clean"
    """One of the amplifiers below."""
    lean: float = 1.5
    """From which overtone on the velocity of a plucked string falls by 6 dB an octave."""
    damp_hz: float = 0.0
    """What the hand on the strings takes away; 0 for none."""
    damped_s: float = 0.0
    """Seconds until only a thousandth of what the hand takes away is left; 0 takes it away from the start."""
    up: bool = False
    """An upstroke, which sets the string going the other way."""


def period_and_rate(key: int, rate_hz: float) -> tuple[int, int]:
    """Frames in a period and the sample rate that make `key` exact, for a rate near `rate_hz`."""
    hz = 440 * 2 ** ((key - 69) / 12)
    period = max(8, round(rate_hz / hz))
    return period, round(period * hz)


def string(sound: StringSound, key: int, seconds: float, seed: int) -> tuple[Signal, int, int]:
    """The signal, its rate and the frames in its period."""
    period, rate = period_and_rate(key, sound.rate_hz)
    frames = int(seconds * rate)
    signal = _vibration(sound, key, frames, period=period, rate=rate, seed=seed)
    return AMPS[sound.amp](signal, rate), rate, period


def _delayed(signal: Signal, frames: float) -> Signal:
    """The signal later by a whole and a part of a frame (linear between neighbours)."""
    whole = int(frames)
    part = round(frames - whole, 9)
    padded = np.concatenate([np.zeros(whole + 1), signal])
    return (1 - part) * padded[1 : len(signal) + 1] + part * padded[: len(signal)]


def _vibration(sound: StringSound, key: int, frames: int, *, period: int, rate: int, seed: int) -> Signal:
    noise = Random(seed)  # noqa: S311 - a sound, not a secret; random() is the same in every Python
    start = np.zeros(frames)
    start[0] = 1.0
    scrape = min(frames, int(0.004 * rate))
    start[:scrape] += sound.pick_noise * np.array([noise.random() - 0.5 for _ in range(scrape)])
    head = filtered(start[: period * 2 + scrape], low_pass(rate, sound.pick_hz, 0.6))
    start[: len(head)] = head[:frames]
    start -= _delayed(start, sound.pick_at * period)

    fundamental = rate / period
    ring = sound.ring_s * 2 ** (-(key - 40) / 30)
    high_hz = min(4000.0, 0.4 * rate)
    keep = 10 ** (-3 / (fundamental * ring))
    keep_high = 10 ** (-3 / (fundamental * min(ring, sound.ring_high_s)))
    bend = 1 - math.cos(2 * math.pi * high_hz / rate)
    side = round(max(0.0, min(0.45, (1 - keep_high / keep) / bend)) * keep / 2, 12)
    middle = round(keep - 2 * side, 12)

    loop = np.zeros(frames + period + 1)
    line = loop[period + 1 :]
    line[:] = start
    for at in range(0, frames, period - 1):
        end = min(at + period - 1, frames)
        before = loop[at : at + (end - at) + 2]
        line[at:end] += side * before[:-2] + middle * before[1:-1] + side * before[2:]
    open_ratio = 2 ** (-min(12, max(0, key - 52)) / 24)
    signal = line - 0.9 * _delayed(line, sound.pickup_at / open_ratio * period)
    if sound.damp_hz:
        hand_hz = max(sound.damp_hz, 2.5 * fundamental) if sound.damped_s else sound.damp_hz
        damped = filtered(signal, low_pass(rate, hand_hz, 0.6))
        left = falling(frames, rate, sound.damped_s) if sound.damped_s else 0.0
        signal = damped + left * (signal - damped)
    lean = round(math.exp(-2 * math.pi * fundamental * sound.lean / rate), 12)
    signal = filtered(signal, (1.0, 0.0, 0.0, -lean, 0.0), high_pass(rate, 24.0))
    top = float(np.max(np.abs(signal[: period * 3])))
    return signal / (-top if sound.up else top)


def _cabinet(rate: int, body: float, body_db: float, edge: float, top: float) -> tuple[Section, ...]:
    """A closed cabinet: no deepest bass, a body, a hollow above it, a presence peak, and a steep end."""
    return (
        high_pass(rate, 65.0, 0.8),
        peak(rate, body, body_db, 0.9),
        peak(rate, 430.0, -3.0, 0.9),
        peak(rate, edge, 4.0, 1.1),
        low_pass(rate, top, 0.9),
        low_pass(rate, top * 1.15, 0.6),
    )


def _clean(signal: Signal, rate: int) -> Signal:
    warm = saturated(signal, 1.1, 0.15)
    return filtered(warm, high_pass(rate, 65.0), peak(rate, 2600.0, 6.0, 0.7), low_pass(rate, 6200.0, 0.8))


def _clean_right(signal: Signal, rate: int) -> Signal:
    warm = saturated(signal, 1.1, -0.15)
    shaped = filtered(warm, high_pass(rate, 65.0), peak(rate, 2000.0, 5.0, 0.7), low_pass(rate, 4600.0, 0.8))
    return filtered(shaped, *_other_place(rate))


def _muted_clean(signal: Signal, rate: int) -> Signal:
    warm = saturated(signal, 3.0, 0.15)
    return filtered(warm, high_pass(rate, 65.0), peak(rate, 1800.0, 3.0, 0.7), low_pass(rate, 4500.0, 0.8))


def _overdrive(signal: Signal, rate: int) -> Signal:
    pushed = filtered(signal, high_pass(rate, 110.0, 0.6), peak(rate, 800.0, 5.0, 0.7))
    driven = saturated(saturated(pushed, 9.0, 0.25), 2.2)
    return filtered(driven, *_cabinet(rate, 130.0, 4.0, 2200.0, 4400.0))


def _harmonics(signal: Signal, rate: int) -> Signal:
    driven = saturated(filtered(signal, high_pass(rate, 110.0, 0.6)), 3.0, 0.3)
    return filtered(driven, *_cabinet(rate, 130.0, 2.0, 2200.0, 5000.0))


def _harmonics_right(signal: Signal, rate: int) -> Signal:
    driven = saturated(filtered(signal, high_pass(rate, 110.0, 0.6)), 2.6, -0.3)
    return filtered(driven, *_cabinet(rate, 140.0, 2.0, 1900.0, 4400.0), *_other_place(rate))


def _dead(signal: Signal, rate: int) -> Signal:
    pushed = filtered(signal, high_pass(rate, 80.0, 0.6), peak(rate, 1200.0, 4.0, 0.6))
    first = filtered(saturated(pushed, 9.0, 0.3), high_pass(rate, 40.0, 0.6), low_pass(rate, 6500.0))
    return filtered(saturated(first, 2.5), *_cabinet(rate, 110.0, 8.0, 2600.0, 4700.0))


def _distortion(signal: Signal, rate: int) -> Signal:
    pushed = filtered(signal, high_pass(rate, 120.0, 0.6), peak(rate, 1200.0, 6.0, 0.6))
    first = filtered(saturated(pushed, 24.0, 0.3), high_pass(rate, 50.0, 0.6), low_pass(rate, 7000.0))
    return filtered(saturated(first, 4.0), *_cabinet(rate, 115.0, 5.0, 2700.0, 5000.0))


def _distortion_right(signal: Signal, rate: int) -> Signal:
    pushed = filtered(signal, high_pass(rate, 105.0, 0.6), peak(rate, 900.0, 5.0, 0.6))
    first = filtered(saturated(pushed, 17.0, -0.4), high_pass(rate, 50.0, 0.6), low_pass(rate, 6000.0))
    return filtered(saturated(first, 4.0), *_cabinet(rate, 140.0, 4.0, 2200.0, 4600.0), *_other_place(rate))


def _other_place(rate: int) -> tuple[Section, ...]:
    """Another loudspeaker with its microphone elsewhere: the same levels, other phases."""
    return all_pass(rate, 190.0, 0.5), all_pass(rate, 620.0, 0.6), all_pass(rate, 2100.0, 0.7)


def _muted_right(signal: Signal, rate: int) -> Signal:
    pushed = filtered(signal, high_pass(rate, 90.0, 0.6), peak(rate, 1200.0, 7.0, 0.6))
    first = filtered(saturated(pushed, 2.6, -0.4), high_pass(rate, 40.0, 0.6), low_pass(rate, 6000.0))
    return filtered(saturated(first, 2.5), *_cabinet(rate, 125.0, 4.0, 2300.0, 5200.0), *_other_place(rate))


def _muted_distortion(signal: Signal, rate: int) -> Signal:
    pushed = filtered(signal, high_pass(rate, 80.0, 0.6), peak(rate, 1500.0, 7.0, 0.6))
    first = filtered(saturated(pushed, 3.0, 0.3), high_pass(rate, 40.0, 0.6), low_pass(rate, 6500.0))
    return filtered(saturated(first, 2.5), *_cabinet(rate, 110.0, 4.0, 2700.0, 5600.0))


def _bass_amp(signal: Signal, rate: int) -> Signal:
    warm = saturated(signal, 1.6, 0.12)
    return filtered(
        warm, high_pass(rate, 26.0), peak(rate, 45.0, 9.0, 0.8), peak(rate, 900.0, 2.0, 0.8), low_pass(rate, 4000.0)
    )


def _driven_bass(signal: Signal, rate: int) -> Signal:
    thin = filtered(signal, high_pass(rate, 250.0))
    grit = filtered(saturated(thin, 10.0), peak(rate, 1500.0, 4.0), low_pass(rate, 3600.0))
    return _bass_amp(signal, rate) + 0.2 * grit


AMPS = {
    "clean": _clean,
    "clean right": _clean_right,
    "muted clean": _muted_clean,
    "overdrive": _overdrive,
    "harmonics": _harmonics,
    "harmonics right": _harmonics_right,
    "dead": _dead,
    "distortion": _distortion,
    "distortion right": _distortion_right,
    "muted distortion": _muted_distortion,
    "muted distortion right": _muted_right,
    "bass": _bass_amp,
    "driven bass": _driven_bass,
}


def looped(signal: Signal, period: int, least: int = 96) -> tuple[Signal, tuple[int, int]]:
    """The signal with a loop at its end that nobody hears.

    The loop is a whole number of periods; over its length before the end the signal fades into itself one loop earlier,
    so that the last frame leads to the loop's first one. A few more frames follow for the synth's interpolation.
    """
    length = period * -(-least // period)
    end = len(signal) - 16
    start = end - length
    ramp = np.arange(1, length + 1) / length
    closed = signal.copy()
    closed[start:end] = (1 - ramp) * signal[start:end] + ramp * signal[start - length : start]
    closed[end:] = closed[start : start + 16]
    return closed, (start, end)
