"""What tests of the bank hear: notes rendered by FluidSynth, and measures of the sound."""

import ctypes
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import fluidsynth
import numpy as np
from numpy.typing import NDArray

RATE = 48000
Signal = NDArray[np.float64]

Note = tuple[float, float, int, int, int]
"""Start and end in seconds, channel, key, velocity."""


@contextmanager
def synth(bank: Path, gain: float = 0.2, effects: bool = False) -> Iterator[tuple[fluidsynth.Synth, int]]:
    """A silent-spoken synth with one bank, without reverb and chorus unless asked."""
    for level in range(5):
        fluidsynth._fl.fluid_set_log_function(level, None, None)
    player = fluidsynth.Synth(gain=gain, samplerate=RATE, channels=64)
    for name in ("synth.reverb.active", "synth.chorus.active"):
        player.setting(name, int(effects))
    number = player.sfload(str(bank))
    try:
        yield player, number
    finally:
        player.delete()


def sounded(player: fluidsynth.Synth, seconds: float) -> Signal:
    """The next `seconds`, two columns, unclipped."""
    frames = round(seconds * RATE)
    left, right = (np.zeros(frames, dtype=np.float32) for _ in range(2))
    pointers = [side.ctypes.data_as(ctypes.c_void_p) for side in (left, right)]
    fluidsynth._fl.fluid_synth_write_float(ctypes.c_void_p(player.synth), frames, pointers[0], 0, 1, pointers[1], 0, 1)
    return np.stack([left, right], axis=1).astype(float)


def note(
    bank: Path, preset: tuple[int, int], key: int, seconds: float, velocity: int = 100, tail: float = 0.0
) -> Signal:
    """One note, both sides together, from its very start; `tail` seconds follow its end."""
    with synth(bank) as (player, number):
        return note_of(player, number, preset, key, seconds, velocity, tail)


def note_of(
    player: fluidsynth.Synth,
    number: int,
    preset: tuple[int, int],
    key: int,
    seconds: float,
    velocity: int = 100,
    tail: float = 0.0,
) -> Signal:
    """The same from a synth that is there already."""
    channel = 9 if preset[0] == 128 else 0
    player.all_sounds_off(channel)
    sounded(player, 0.02)
    player.program_select(channel, number, *preset)
    player.noteon(channel, key, velocity)
    sound = sounded(player, seconds)
    player.noteoff(channel, key)
    if tail:
        sound = np.concatenate([sound, sounded(player, tail)])
    return sound.sum(axis=1)


def phrase(player: fluidsynth.Synth, notes: Sequence[Note], seconds: float) -> Signal:
    """Notes played at their times (to the frame), two columns."""
    events = sorted(
        [(round(start * RATE), 1, channel, key, velocity) for start, _, channel, key, velocity in notes]
        + [(round(end * RATE), 0, channel, key, 0) for _, end, channel, key, _ in notes]
    )
    parts, now = [], 0
    for frame, on, channel, key, velocity in events:
        if frame > now:
            parts.append(sounded(player, (frame - now) / RATE))
            now = frame
        if on:
            player.noteon(channel, key, velocity)
        else:
            player.noteoff(channel, key)
    parts.append(sounded(player, max(0.0, seconds - now / RATE)))
    return np.concatenate(parts)


def hertz(key: int) -> float:
    """The pitch of a key in equal temperament."""
    return float(440 * 2 ** ((key - 69) / 12))


def cents_off(sound: Signal, key: int) -> float:
    """How far a sound is from its key: the autocorrelation's peak many periods away, between frames by a parabola.

    Comparing the sound with itself some twenty periods later makes a cent a large part of a frame even for high keys;
    overtones that are not harmonic would show as a low peak, and the function refuses one under 0.5.
    """
    period = RATE / hertz(key)
    many = max(1, min(24, int(len(sound) / 3 / period)))
    middle = many * period
    reach = max(2, int(middle * (2 ** (25 / 1200) - 1)) + 2)
    reach = min(reach, max(2, int(period * 0.4)))
    size = len(sound) - int(middle) - reach - 2
    lags = np.arange(int(middle) - reach, int(middle) + reach + 1)
    here = sound[:size]
    energy = np.concatenate([[0.0], np.cumsum(sound * sound)])
    there = np.sqrt(energy[lags + size] - energy[lags])
    likeness = np.array([np.dot(here, sound[lag : lag + size]) for lag in lags]) / (there * np.sqrt(energy[size]))
    top = int(np.argmax(likeness[1:-1])) + 1
    if likeness[top] < 0.5:
        raise AssertionError(f"no pitch near key {key}: likeness {likeness[top]:.2f}")
    before, at, after = likeness[top - 1 : top + 2]
    lag = lags[top] + (before - after) / (2 * (before - 2 * at + after))
    return float(1200 * np.log2(middle / lag))
