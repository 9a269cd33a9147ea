"""A rock kit and two clicks: drum heads as falling tones, cymbals as crowds of inharmonic tones, all with noise."""

import math
from random import Random

import numpy as np
from filters import Signal, band_pass, filtered, high_pass, high_shelf, low_pass, peak, saturated

RATE = 32000


def _frames(seconds: float) -> int:
    return int(seconds * RATE)


def decay(frames: int, seconds: float) -> Signal:
    """An envelope from 1 that falls by 60 dB in `seconds`, by repeated multiplication."""
    step = round(10 ** (-3 / (seconds * RATE)), 15)
    values, value = [], 1.0
    for _ in range(frames):
        values.append(value)
        value *= step
    return np.array(values)


def noise(frames: int, seed: int) -> Signal:
    """White noise within -1 and 1."""
    source = Random(seed)  # noqa: S311 - a sound, not a secret; random() is the same in every Python
    return np.array([2 * source.random() - 1 for _ in range(frames)])


def tone(frames: int, hz: float, start_hz: float = 0.0, glide_s: float = 0.02) -> Signal:
    """A sine that falls from `start_hz` to `hz`."""
    extra = (start_hz - hz) if start_hz else 0.0
    step = round(10 ** (-1 / (glide_s * RATE)), 15)
    phase, values = 0.0, []
    for _ in range(frames):
        values.append(round(math.sin(phase), 12))
        phase += 2 * math.pi * (hz + extra) / RATE
        extra *= step
    return np.array(values)


def crowd(frames: int, low: float, high: float, *, count: int, seconds: float, seed: int) -> Signal:
    """Many tones between two frequencies, denser towards the top, the higher the shorter."""
    source = Random(seed)  # noqa: S311 - a sound, not a secret; random() is the same in every Python
    total = np.zeros(frames)
    for _ in range(count):
        place = source.random()
        hz = low + (high - low) * place
        weight = 0.4 + 0.6 * source.random()
        lasting = seconds * (1.3 - 0.8 * place) * (0.6 + 0.8 * source.random())
        turn = round(2 * math.cos(2 * math.pi * hz / RATE), 12)
        one, two = 0.0, round(math.sin(2 * math.pi * source.random()), 12)
        values = []
        for _ in range(frames):
            values.append(two)
            one, two = two, turn * two - one
        wave = np.array(values)
        total += weight * wave / float(np.max(np.abs(wave))) * decay(frames, lasting)
    return total / math.sqrt(count)


def kick() -> Signal:
    """Bass drum: a deep falling tone and the beater."""
    n = _frames(0.36)
    head = tone(n, 49.0, 210.0, 0.028) * decay(n, 0.42)
    beater = filtered(noise(n, 11), band_pass(RATE, 3200.0, 0.8)) * decay(n, 0.025)
    thud = tone(n, 105.0, 420.0, 0.012) * decay(n, 0.09)
    return saturated(head + 0.9 * beater + 0.45 * thud, 1.5)


def snare() -> Signal:
    """Two modes of the head and the rattle of the wires."""
    n = _frames(0.34)
    head = tone(n, 188.0, 260.0, 0.015) * decay(n, 0.16) + 0.6 * tone(n, 334.0, 400.0, 0.01) * decay(n, 0.1)
    wires = filtered(noise(n, 21), high_pass(RATE, 1400.0), peak(RATE, 4200.0, 4.0)) * decay(n, 0.3)
    crack = filtered(noise(n, 22), band_pass(RATE, 2300.0, 0.7)) * decay(n, 0.035)
    return saturated(0.8 * head + 0.55 * wires + 1.1 * crack, 1.4)


def side_stick() -> Signal:
    """Stick on the rim."""
    n = _frames(0.09)
    return tone(n, 1720.0) * decay(n, 0.05) + 0.7 * tone(n, 480.0) * decay(n, 0.06)


def hat(open_: bool) -> Signal:
    """Two small cymbals, closed or open."""
    lasting = 0.9 if open_ else 0.09
    n = _frames(0.62 if open_ else 0.12)
    metal = crowd(n, 3300.0, 13500.0, count=28, seconds=lasting, seed=31)
    hiss = filtered(noise(n, 32), high_pass(RATE, 7000.0)) * decay(n, lasting * 0.8)
    tick = filtered(noise(n, 33), band_pass(RATE, 5200.0, 0.8)) * decay(n, 0.012)
    return filtered(metal + 0.7 * hiss + 0.8 * tick, high_pass(RATE, 3200.0), high_shelf(RATE, 9000.0, 2.0))


def ride(bell: bool) -> Signal:
    """A ride cymbal, on its bow or on its bell."""
    n = _frames(0.95)
    wash = crowd(n, 1900.0, 12500.0, count=36, seconds=2.2, seed=41)
    stick = filtered(noise(n, 42), band_pass(RATE, 6200.0, 0.7)) * decay(n, 0.02)
    if not bell:
        return filtered(0.75 * wash + 1.3 * stick, high_pass(RATE, 1500.0))
    rings = [tone(n, hz) * decay(n, lasting) for hz, lasting in ((1180.0, 1.5), (2475.0, 1.3), (3890.0, 1.0))]
    return rings[0] + 0.8 * rings[1] + 0.5 * rings[2] + 0.35 * wash + 0.9 * stick


def crash() -> Signal:
    """A crash cymbal: a burst that thins out."""
    n = _frames(1.25)
    burst = filtered(noise(n, 51), high_pass(RATE, 1800.0), high_shelf(RATE, 6000.0, -3.0)) * decay(n, 1.1)
    metal = crowd(n, 700.0, 11500.0, count=48, seconds=2.4, seed=52)
    return filtered(metal + 0.9 * burst, high_pass(RATE, 500.0))


def tom(hz: float, seed: int) -> Signal:
    """A tom of that pitch."""
    n = _frames(0.5)
    head = tone(n, hz, hz * 1.8, 0.045) * decay(n, 0.65) + 0.35 * tone(n, hz * 1.59, hz * 2.4, 0.03) * decay(n, 0.28)
    stick = filtered(noise(n, seed), band_pass(RATE, 2600.0, 0.7), low_pass(RATE, 7000.0)) * decay(n, 0.03)
    return saturated(head + 0.7 * stick, 1.2)


def click(hz: float) -> Signal:
    """A short knock of clear pitch that cuts through distortion: a tone, its octave and a fifth above that."""
    n = _frames(0.06)
    parts = [tone(n, hz) * decay(n, 0.05), tone(n, hz * 2) * decay(n, 0.03), tone(n, hz * 3.01) * decay(n, 0.012)]
    attack = filtered(noise(n, 61), band_pass(RATE, 5000.0, 0.7)) * decay(n, 0.004)
    return saturated(parts[0] + 0.7 * parts[1] + 0.5 * parts[2] + 0.5 * attack, 2.5)
