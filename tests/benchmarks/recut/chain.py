"""From the dry strings to a recording: another guitar's tone, drive, cabinet, room, noise, and the noises of hands."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.recut.notes import RATE, Cut, Wave, shifted


@dataclass(frozen=True)
class Chain:
    """What the signal goes through."""

    drive: float
    """Gain into a tanh; 0 leaves it as it is."""
    cabinet_hz: float
    """Where its treble ends; 0 for none."""
    room: bool
    noise_db: float
    """Signal over noise."""


CHAINS = (Chain(0, 0, False, 50), Chain(2, 5500, True, 24), Chain(3, 5000, False, 40), Chain(10, 4500, False, 32))


def mixed_chain(rng: np.random.Generator) -> Chain:
    """One of the usual ones, or, in three of ten, their parts shuffled."""
    if rng.random() < 0.7:
        return CHAINS[int(rng.integers(len(CHAINS)))]
    one, two, three = (CHAINS[int(rng.integers(len(CHAINS)))] for _ in range(3))
    return Chain(one.drive, one.cabinet_hz, two.room, three.noise_db)


def another_guitar(sound: Wave, rng: np.random.Generator) -> Wave:
    """The same strings under another pickup: a tilt of up to 3 dB an octave and a resonance."""
    size = 1 << (len(sound) - 1).bit_length()
    spectrum = np.fft.rfft(sound, size)
    octaves = np.log2(np.maximum(np.fft.rfftfreq(size, 1 / RATE), 40.0) / 800)
    tilt = rng.uniform(-3, 3) * np.clip(octaves, -3, 3)
    peak = rng.uniform(0, 6) * np.exp(-0.5 * ((octaves - rng.uniform(1, 2.3)) / 0.4) ** 2)
    return np.asarray(np.fft.irfft(spectrum * 10 ** ((tilt + peak) / 20), size)[: len(sound)])


def through(sound: Wave, chain: Chain, rng: np.random.Generator) -> Wave:
    """The sound at the end of the chain, full scale 0.8."""
    sound = sound / np.abs(sound).max()
    if chain.drive:
        sound = np.tanh(chain.drive * sound) / np.tanh(chain.drive)
    size = 1 << (len(sound) + RATE // 2).bit_length()
    spectrum, hertz = np.fft.rfft(sound, size), np.fft.rfftfreq(size, 1 / RATE)
    if chain.cabinet_hz:
        presence = 1 + 0.5 * np.exp(-(np.log2(np.maximum(hertz, 1) / 2500) ** 2) / 0.5)
        low = (hertz / 70) ** 2 / (1 + (hertz / 70) ** 2)
        phase = np.exp(-2.8j * np.arctan(hertz / chain.cabinet_hz))
        spectrum = spectrum * presence * low * phase / np.sqrt(1 + (hertz / chain.cabinet_hz) ** 8)
    out = np.fft.irfft(spectrum, size)[: len(sound)]
    if chain.room:
        length = RATE // 4
        answer = rng.normal(0, 1, length) * np.exp(-np.arange(length) / RATE / 0.05)
        answer[: RATE * 3 // 1000] = 0
        answer *= 0.2 / np.sqrt((answer**2).sum())
        out = out + np.fft.irfft(np.fft.rfft(out, size) * np.fft.rfft(answer, size), size)[: len(sound)]
    noise = np.sqrt(np.mean(out**2)) * 10 ** (-chain.noise_db / 20)
    out = out + rng.normal(0, noise, len(out))
    return np.asarray(out * 0.8 / np.abs(out).max())


def hand_noise(rng: np.random.Generator, pool: Sequence[Cut]) -> Wave:
    """A string noise that is no note: a muted string, a pick that comes to rest on one, fingers; peak 1."""
    kind = rng.choice(["thump", "touch", "fingers", "muted", "pick rest"], p=[0.2, 0.1, 0.15, 0.35, 0.2])
    if kind in ("muted", "pick rest"):
        cut = pool[int(rng.integers(len(pool)))]
        sound = shifted(cut.samples, int(rng.integers(-5, 6)))[: int(0.12 * RATE)].copy()
        sound *= np.exp(-np.arange(len(sound)) / RATE / rng.uniform(0.006, 0.02))
        if kind == "pick rest":
            sound[1:] -= 0.97 * sound[:-1]
    else:
        count = int(RATE * rng.uniform(0.02, 0.07))
        spectrum, hertz = np.fft.rfft(rng.normal(0, 1, count)), np.fft.rfftfreq(count, 1 / RATE)
        if kind == "thump":
            spectrum /= 1 + 8 * (hertz / rng.uniform(150, 700) - 1) ** 2
        elif kind == "touch":
            spectrum /= 1 + 4 * (hertz / rng.uniform(1500, 4000) - 1) ** 2
        else:
            spectrum /= 1 + (hertz / 2500) ** 2
        sound = np.fft.irfft(spectrum, count) * np.exp(-np.arange(count) / RATE / rng.uniform(0.006, 0.02))
    sound[:24] *= np.linspace(0, 1, 24)
    return np.asarray(sound / np.abs(sound).max())
