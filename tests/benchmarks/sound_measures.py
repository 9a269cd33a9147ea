"""Measures of a sound bank for `sound.py`: functions of rendered sound, in decibels, loudness units or milliseconds.

Sounds are one column unless said otherwise, at `RATE`. Levels are root mean square over 12 ms, a 64th note at 312 bpm:
long enough for a period of the low E, short enough to see between two sixteenths.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyloudnorm

from tests.playback.riffs import exercise, riff
from tests.sounds.hearing import RATE, Signal, hertz
from trainer.music.instrument import BASS, instrument
from trainer.music.note import DrumMoment, Hit, Moment, Note
from trainer.music.part import DrumPart, Part, PartSettings, TabPart
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.rig import Rig

WINDOW = int(0.012 * RATE)
DRY = SynthOptions(RATE, reverb=False, chorus=False)
OPEN_STRINGS = (64, 59, 55, 50, 45, 40)
SIXTEENTH = Fraction(1, 16)


@dataclass(frozen=True)
class Bench:
    """A bank with the patches fitted to it."""

    name: str
    path: Path
    rig: Rig


def sixteenths(key: int, *, mute: bool = True, bars: int = 1) -> TabPart:
    """A bar or more of sixteenths on the thickest string that reaches a key, strokes alternating."""
    string = max(s for s, low in enumerate(OPEN_STRINGS, 1) if low <= key)
    note = (Note(string, key - OPEN_STRINGS[string - 1]),)
    bar = tuple(Moment(i * SIXTEENTH, note, mute=mute, pick="du"[i % 2]) for i in range(16))
    return TabPart("guitar 1", instrument(), (bar,) * bars)


def once(*keys: int, part: str = "guitar 1", mute: bool = False) -> TabPart:
    """One note or chord for a bar, from the thickest string up."""
    low = OPEN_STRINGS if part != "bass" else (43, 38, 33, 28)
    first = max(s for s, bottom in enumerate(low, 1) if bottom <= keys[0])
    notes = tuple(Note(first - i, key - low[first - 1 - i]) for i, key in enumerate(keys))
    tuned = instrument() if part != "bass" else instrument(BASS)
    return TabPart(part, tuned, ((Moment(Fraction(0), tuple(reversed(notes)), mute=mute),),))


def drum_sixteenths(piece: str) -> DrumPart:
    """A bar of sixteenths on one piece of the kit."""
    return DrumPart("drums", (tuple(DrumMoment(i * SIXTEENTH, (Hit(piece),)) for i in range(16)),))


def played(bench: Bench, part: Part, patch: str, bpm: int = 200) -> Signal:
    """A part as the trainer plays it through a patch, both sides together, without reverb."""
    music = riff(part, target=bpm)
    whole = exercise(music, settings=(PartSettings(part.name, patch=patch),))
    timeline = Timeline.of(Piece.of(whole, [music]), bench.rig)
    synth = OfflineSynth(bench.path, DRY, click_keys(timeline))
    sound = np.concatenate(list(sound_of(timeline, Plan(timeline.piece.whole), synth)))
    synth.close()
    return np.asarray(sound.sum(axis=1), dtype=float)


def band(sound: Signal, low: float, high: float) -> Signal:
    """What lies between two frequencies; edges a quarter octave wide, so that nothing rings on."""
    spectrum = np.fft.rfft(np.concatenate([sound, np.zeros(RATE // 4)]))
    hz = np.maximum(np.fft.rfftfreq(len(sound) + RATE // 4, 1 / RATE), 1e-9)
    octaves = np.minimum(np.log2(hz / low), np.log2(high / hz))
    gain = np.clip(octaves * 4 + 0.5, 0, 1)
    return np.fft.irfft(spectrum * np.sin(gain * np.pi / 2) ** 2)[: len(sound)]


def levels(sound: Signal) -> Signal:
    """The level in dB of the 12 ms around every frame."""
    energy = np.convolve(sound * sound, np.ones(WINDOW) / WINDOW, "same")
    return np.asarray(10 * np.log10(np.maximum(energy, 1e-14)))


def pick(sound: Signal) -> float:
    """How much more 2 to 6 kHz there is at the stroke than 60 ms later, in dB."""
    level = levels(band(sound, 2000, 6000))
    return float(level[: int(0.025 * RATE)].max() - level[int(0.06 * RATE) : int(0.075 * RATE)].mean())


def fall_ms(sound: Signal, db: float = 20.0) -> float:
    """When a note has fallen for good by so many dB from its loudest."""
    level = levels(sound)
    top = int(level[: int(0.1 * RATE)].argmax())
    above = np.flatnonzero(level[top:] > level[top] - db)
    return float((top + above[-1]) / RATE * 1000)


def dip(sound: Signal, step_s: float = 0.075, low: float = 0.0, high: float = 0.0) -> float:
    """How far the level falls between strokes that follow each other every `step_s`, the mean over a bar, in dB."""
    level = levels(band(sound, low, high) if high else sound)
    found = []
    for one in range(2, 14):
        begin, end = int(one * step_s * RATE), int((one + 1) * step_s * RATE)
        found.append(level[begin : begin + int(0.03 * RATE)].max() - level[begin + int(0.03 * RATE) : end].min())
    return float(np.mean(found))


def loudness(sound: Signal) -> float:
    """Loudness in LUFS (ITU-R BS.1770), one column or two."""
    return float(pyloudnorm.Meter(RATE).integrated_loudness(sound))


def body_and_beater(sound: Signal) -> float:
    """The beater of a kick, 2 to 6 kHz, against its body below 200 Hz: loudest 12 ms of each, in dB."""
    return float(levels(band(sound, 2000, 6000)).max() - levels(band(sound, 20, 200)).max())


def likeness(one: Signal, other: Signal) -> float:
    """The correlation of two sounds where they fit best within half a millisecond."""
    reach = RATE // 2000
    size = min(len(one), len(other)) - 2 * reach
    middle = one[reach : reach + size]
    found = []
    for shift in range(2 * reach + 1):
        there = other[shift : shift + size]
        found.append(float(np.dot(middle, there) / np.sqrt(np.dot(middle, middle) * np.dot(there, there) + 1e-30)))
    return max(found)


def consecutive(sound: Signal, step_s: float = 0.3, length_s: float = 0.2, count: int = 10) -> tuple[float, float]:
    """The mean and the greatest correlation of strokes that follow each other every `step_s`, too slow to overlap."""
    strokes = [sound[int(one * step_s * RATE) :][: int(length_s * RATE)] for one in range(2, 2 + count)]
    found = [likeness(one, other) for one, other in pairwise(strokes)]
    return float(np.mean(found)), max(found)


def centroid_octaves(sound: Signal) -> float:
    """The centre of the power spectrum over the first 0.3 s, in octaves over 1 Hz."""
    part = sound[: int(0.3 * RATE)]
    size = np.abs(np.fft.rfft(part * np.hanning(len(part)))) ** 2
    hz = np.fft.rfftfreq(len(part), 1 / RATE)
    heard = (hz > 60) & (hz < 12000)
    return float(np.log2((size[heard] * hz[heard]).sum() / size[heard].sum()))


def largest_step(values: Sequence[float]) -> tuple[float, int]:
    """The largest step between neighbours, and the index of the first of the two."""
    steps = np.abs(np.diff(values))
    return float(steps.max()), int(steps.argmax())


def of_neither(sound: Signal, keys: Sequence[int]) -> float:
    """The energy of a chord that is no overtone of any of its notes, against all, in dB."""
    part = sound[int(0.1 * RATE) : int(1.1 * RATE)]
    energy = np.abs(np.fft.rfft(part * np.blackman(len(part)))) ** 2
    hz = np.fft.rfftfreq(len(part), 1 / RATE)
    own = np.zeros(len(hz), dtype=bool)
    for key in keys:
        number = np.maximum(1, np.round(hz / hertz(key)))
        own |= np.abs(hz - number * hertz(key)) < 4 + 0.0025 * hz
    heard = (hz > 30) & (hz < 2500)
    return float(10 * np.log10(energy[heard & ~own].sum() / energy[heard].sum() + 1e-12))


def fundamental(sound: Signal, key: int) -> float:
    """The fundamental against the strongest partial, in dB."""
    part = sound[int(0.05 * RATE) : int(0.45 * RATE)]
    size = np.abs(np.fft.rfft(part * np.hanning(len(part))))
    hz = np.fft.rfftfreq(len(part), 1 / RATE)
    here = size[np.abs(hz / hertz(key) - 1) < 0.03].max()
    return float(20 * np.log10(here / size.max()))


def attack_ms(sound: Signal) -> float:
    """From the first frame over 2 % of the note's early peak to the first over 70 % of it."""
    size = np.abs(sound[: int(0.12 * RATE)])
    peak = size.max()
    return float(np.argmax(size > 0.7 * peak) - np.argmax(size > 0.02 * peak)) / RATE * 1000
