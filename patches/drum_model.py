"""A rock kit and two clicks: drum heads as falling tones, cymbals as crowds of inharmonic tones, all with noise."""

import math
from random import Random

import numpy as np
from filters import Signal, band_pass, falling, filtered, high_pass, high_shelf, low_pass, peak, saturated

RATE = 32000


def _frames(seconds: float) -> int:
    return int(seconds * RATE)


def decay(frames: int, seconds: float) -> Signal:
    """An envelope from 1 that falls by 60 dB in `seconds`."""
    return falling(frames, RATE, seconds)


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


def kick(take: int = 0) -> Signal:
    """Bass drum: a short falling tone and a hard beater, so that two feet part at 200 bpm; each take is another hit."""
    n = _frames(0.22)
    head = tone(n, 52.0, 230.0 - 14.0 * take, 0.022) * decay(n, 0.15)
    beater = filtered(noise(n, 11 + 100 * take), band_pass(RATE, 3600.0, 0.8)) * decay(n, 0.03)
    thud = tone(n, 108.0, 440.0, 0.012) * decay(n, 0.08)
    return saturated(head + 1.5 * beater + 0.5 * thud, 1.5)


def snare(take: int = 0) -> Signal:
    """Two modes of the head and the rattle of the wires; each take is another hit, a little elsewhere on the head."""
    n = _frames(0.34)
    high = 0.6 + 0.12 * take
    head = tone(n, 192.0, 270.0, 0.015) * decay(n, 0.15) + high * tone(n, 338.0 + take, 410.0, 0.01) * decay(n, 0.1)
    wires = filtered(noise(n, 21 + 100 * take), high_pass(RATE, 1400.0), peak(RATE, 4200.0, 4.0)) * decay(n, 0.3)
    crack = filtered(noise(n, 22 + 100 * take), band_pass(RATE, 2300.0, 0.7)) * decay(n, 0.04)
    return saturated(head + 1.0 * wires + 2.0 * crack, 2.2)


def side_stick() -> Signal:
    """Stick on the rim."""
    n = _frames(0.09)
    return tone(n, 1720.0) * decay(n, 0.05) + 0.7 * tone(n, 480.0) * decay(n, 0.06)


def hat(open_: bool, take: int = 0) -> Signal:
    """Two small cymbals, closed or open; each take is another hit."""
    lasting = 1.5 if open_ else 0.09
    n = _frames(1.0 if open_ else 0.12)
    metal = crowd(n, 3300.0, 13500.0, count=28, seconds=lasting, seed=31 + 100 * take)
    hiss = filtered(noise(n, 32 + 100 * take), high_pass(RATE, 7000.0)) * decay(n, lasting * 0.8)
    tick = filtered(noise(n, 33 + 100 * take), band_pass(RATE, 5200.0, 0.8)) * decay(n, 0.012)
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
    """A crash cymbal: a burst that thins out over seconds."""
    n = _frames(3.1)
    burst = filtered(noise(n, 51), high_pass(RATE, 1800.0), high_shelf(RATE, 6000.0, -3.0)) * decay(n, 1.6)
    metal = crowd(n, 500.0, 11500.0, count=40, seconds=6.0, seed=52)
    return filtered(metal + 1.4 * burst, high_pass(RATE, 400.0))


def china() -> Signal:
    """A china cymbal: trashy, lower and shorter than a crash, driven so that its tones mix."""
    n = _frames(1.5)
    burst = filtered(noise(n, 55), band_pass(RATE, 2600.0, 0.5)) * decay(n, 1.3)
    metal = crowd(n, 330.0, 7800.0, count=30, seconds=2.2, seed=56)
    return filtered(saturated(metal + 1.2 * burst, 2.5), high_pass(RATE, 350.0), peak(RATE, 3400.0, 4.0))


def splash() -> Signal:
    """A splash cymbal: a small crash, gone at once."""
    n = _frames(0.8)
    burst = filtered(noise(n, 57), high_pass(RATE, 3000.0)) * decay(n, 0.6)
    metal = crowd(n, 1500.0, 13500.0, count=26, seconds=1.1, seed=58)
    return filtered(metal + 1.2 * burst, high_pass(RATE, 1200.0))


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
