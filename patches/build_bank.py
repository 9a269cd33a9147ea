"""Synthesises the built-in sound bank: `python patches/build_bank.py` writes `patches/twinspur.sf2`.

No recording is used. Every step is arithmetic that IEEE 754 fixes to the last bit, or is rounded coarsely enough, so
the file comes out the same to the byte on every machine; a test builds it anew and compares.

Presets stand at their General MIDI programs. Variation banks hold the other side's sound: another player with another
amplifier, with samples of their own. Where a sound has several takes (up- and downstrokes, hits of a drum), the
velocity chooses: each next velocity sounds the next of four, which `trainer.sounds.takes` relies on.
"""

import math
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import drum_model
import numpy as np
import string_sounds as sounds
from evening import evened
from filters import Signal, loudness
from soundfont_writer import Instrument, Sample, Zone, write_soundfont
from string_model import StringSound, looped, string

BANK = Path(__file__).resolve().with_name("twinspur.sf2")

GUITAR_KEYS = range(33, 94, 4)
"""A guitar's sample roots: from A1, for seven strings tuned low, to A6; fret 24 of the thinnest string is E6."""

RIGHT_KEYS = range(35, 92, 4)
"""The roots of a guitar on the right, between those of the left."""

BASS_KEYS = range(23, 68, 4)
"""A bass's sample roots: B0, the lowest of five strings, to G4, fret 24 of the thinnest."""

DEAD_GUITAR_KEYS = range(38, 87, 12)
DEAD_BASS_KEYS = range(28, 65, 12)
HARMONIC_KEYS = range(41, 98, 6)

LEVEL = -17.0
"""Decibels below full scale of every string sample's loudness over its first 0.3 s (`filters.loudness`)."""

DRIVEN = (720, -2600)
"""How velocity works on a driven guitar, `velocity_level` and `velocity_filter`: less on the level, which the amplifier
evens out, and more on the brightness."""


def cents(hz: float) -> int:
    """A frequency as the filter generator wants it."""
    return round(1200 * math.log2(hz / 8.176))


def timecents(seconds: float) -> int:
    """A time as the envelope generators want it."""
    return round(1200 * math.log2(seconds))


def sixteen_bits(signal: Signal) -> bytes:
    """Samples in -1 to 1 as little-endian 16-bit numbers."""
    if float(np.max(np.abs(signal))) >= 1:
        raise ValueError(f"a sample is {float(np.max(np.abs(signal))):.2f} times what 16 bits can hold")
    return bytes(np.rint(signal * 32767).astype("<i2").tobytes())


def after_silence(signal: Signal, rate: int) -> Signal:
    """The signal after 1.5 ms of silence.

    FluidSynth begins a voice at the next of its blocks of 64 frames, with what the last voice left in its interpolation
    of levels: where nothing sounds yet, nothing of that is heard, and a note sounds alike whatever came before it.
    """
    return np.concatenate([np.zeros(int(0.0015 * rate) + 1), signal])


def strings(
    name: str,
    sound: StringSound,
    keys: range,
    seconds: float,
    *,
    level_db: float = LEVEL,
    heard_s: float = 0.3,
    ends: bool = False,
) -> list[Sample]:
    """One sample for each root key, all equally loud and evenly bright; low notes are longer.

    `heard_s` is over how much of a sample it is as loud as the others; `ends` is for sounds that die away.
    """
    made = [
        string(sound, key, seconds * (1.25 - 0.5 * number / (len(keys) - 1)), seed=1000 + key)
        for number, key in enumerate(keys)
    ]
    even = evened([(signal, rate) for signal, rate, _ in made], keys)
    samples = []
    for key, signal, (_, rate, period) in zip(keys, even, made, strict=True):
        level = 10 ** (level_db / 20) / loudness(signal[: int(heard_s * rate)], rate)
        whole, loop = (faded(signal * level, int(0.08 * rate)), None) if ends else looped(signal * level, period)
        frames = after_silence(whole, rate)
        silent = len(frames) - len(whole)
        samples.append(
            Sample(
                f"{name} {key}",
                sixteen_bits(frames),
                rate,
                key,
                loop and (loop[0] + silent, loop[1] + silent),
            )
        )
    return samples


def faded(signal: Signal, frames: int) -> Signal:
    """The signal, faded out over its last frames, a quarter of them all at most."""
    fade = min(len(signal) // 4, frames)
    return np.concatenate([signal[:-fade], signal[-fade:] * (np.arange(fade, 0, -1) / fade)])


def across(samples: list[Sample], *, held: bool = True) -> list[Zone]:
    """The samples side by side over all keys, each around its root.

    A note's level is the sample's own until its loop, which does not fall, and the envelope's from there; with `held`
    false it falls from the beginning.
    """
    zones, low = [], 0
    for number, sample in enumerate(samples):
        last = number == len(samples) - 1
        high = 127 if last else (sample.root + samples[number + 1].root) // 2
        settings = {"hold": timecents(sample.loop[0] / sample.rate)} if sample.loop and held else {}
        zones.append(Zone(sample, low, high, settings))
        low = high + 1
    return zones


def in_turn(takes: Sequence[list[Zone]], softest: int = 88) -> list[Zone]:
    """The takes of one sound by velocity: from `softest` on each velocity sounds the next of four, below the first.

    With two takes the third is the first again. `softest` is a multiple of 4.
    """
    found = [replace(zone, velocities=(0, softest - 1)) for zone in takes[0]] if softest else []
    for velocity in range(softest, 128):
        found += [replace(zone, velocities=(velocity, velocity)) for zone in takes[velocity % 4 % len(takes)]]
    return found


def drum(name: str, signal: Signal, level_db: float, *, rate: int = drum_model.RATE) -> Sample:
    """A drum's sample at a peak of `level_db`, ending in silence."""
    level = 10 ** (level_db / 20) / float(np.max(np.abs(signal)))
    return Sample(name, sixteen_bits(after_silence(faded(signal * level, len(signal)), rate)), rate, 60)


def kit() -> list[Zone]:
    """The kit by the General MIDI percussion map, and the two clicks on the wood blocks' keys (also on 33 and 34)."""
    kicks = [drum(f"kick {take}", drum_model.kick(take), -1.0) for take in range(2)]
    snares = [drum(f"snare {take}", drum_model.snare(take), -6.0) for take in range(4)]
    hats = [drum(f"hat closed {take}", drum_model.hat(False, take), -3.0) for take in range(4)]
    stick = drum("side stick", drum_model.side_stick(), -3.0)
    opened = drum("hat open", drum_model.hat(True), -8.0)
    ride, bell = drum("ride", drum_model.ride(False), -17.0), drum("ride bell", drum_model.ride(True), -15.0)
    crash, china = drum("crash", drum_model.crash(), -8.0), drum("china", drum_model.china(), -11.0)
    splash = drum("splash", drum_model.splash(), -7.0)
    high_tom, low_tom = (
        drum("tom high", drum_model.tom(165.0, 71), -5.0),
        drum("tom low", drum_model.tom(92.0, 72), -4.0),
    )
    high_click, low_click = (
        drum("click high", drum_model.click(1760.0), -0.5),
        drum("click low", drum_model.click(1175.0), -0.5),
    )
    pieces: list[tuple[int, Sample | list[Sample], int, int, int]] = [
        # key, sample or its takes, cents, pan, choke class
        (33, low_click, 0, 0, 0), (34, high_click, 0, 0, 0),
        (35, kicks, -100, 0, 0), (36, kicks, 0, 0, 0), (37, stick, 0, 0, 0),
        (38, snares, 0, 0, 0), (40, snares, 150, 0, 0),
        (41, low_tom, 0, 160, 0), (43, low_tom, 200, 120, 0), (45, low_tom, 450, 60, 0),
        (47, high_tom, -250, -20, 0), (48, high_tom, 0, -80, 0), (50, high_tom, 250, -120, 0),
        (42, hats, 0, -140, 1), (44, hats, -300, -140, 1), (46, opened, 0, -140, 1),
        (49, crash, 0, -180, 0), (52, china, 0, 200, 0), (55, splash, 0, 120, 0), (57, crash, -250, 180, 0),
        (51, ride, 0, 150, 0), (59, ride, -200, 150, 0), (53, bell, 0, 150, 0), (56, bell, -700, 0, 0),
        (76, high_click, 0, 0, 0), (77, low_click, 0, 0, 0),
    ]  # fmt: skip
    zones = []
    for key, played, tune, pan, choke in sorted(pieces, key=lambda piece: piece[0]):
        semitones = round(tune / 100)
        settings = {"root": key, "semitones": semitones, "tune": tune - 100 * semitones, "pan": pan}
        settings |= {"chokes": choke} if choke else {}
        if isinstance(played, Sample):
            zones.append(Zone(played, key, key, settings))
        else:
            zones += in_turn([[Zone(take, key, key, settings)] for take in played], 0)
    return zones


def open_takes(name: str, takes: Sequence[StringSound], keys: range) -> list[Zone]:
    """An open sound on an amplifier that sings: a downstroke and an upstroke."""
    return in_turn([across(strings(f"{name} {number}", take, keys, 0.67)) for number, take in enumerate(takes)])


def muted_takes(name: str, takes: Sequence[StringSound], keys: range) -> list[Zone]:
    """A palm-muted sound: the strokes given, each twice, picked a little elsewhere the second time."""
    again = [replace(take, pick_at=take.pick_at * 1.25, pickup_at=take.pickup_at * 1.2) for take in takes]
    return in_turn(
        [
            across(strings(f"{name} {number}", take, keys, 0.25, level_db=LEVEL - 2.2, heard_s=0.075, ends=True))
            for number, take in enumerate([*takes, *again])
        ]
    )


def build() -> bytes:
    """The whole bank."""
    clean = strings("clean", sounds.CLEAN, GUITAR_KEYS, 0.85)
    clean_right = strings("clean right", sounds.CLEAN_RIGHT, RIGHT_KEYS, 0.85)
    overdrive = strings("overdrive", sounds.OVERDRIVE, GUITAR_KEYS, 0.6)
    distortion = open_takes("distortion", (sounds.DISTORTION, sounds.DISTORTION_UP), GUITAR_KEYS)
    distortion_right = open_takes("right", (sounds.DISTORTION_RIGHT, sounds.DISTORTION_RIGHT_UP), RIGHT_KEYS)
    muted = muted_takes("muted", (sounds.MUTED, sounds.MUTED_UP), GUITAR_KEYS)
    muted_right = muted_takes("muted right", (sounds.MUTED_RIGHT, sounds.MUTED_RIGHT_UP), RIGHT_KEYS)
    clean_muted = muted_takes("clean muted", (sounds.CLEAN_MUTED,), GUITAR_KEYS)
    dead = strings("dead", sounds.DEAD, DEAD_GUITAR_KEYS, 0.12, level_db=LEVEL - 1.8, ends=True)
    dead_right = strings("dead right", sounds.DEAD_RIGHT, DEAD_GUITAR_KEYS, 0.12, level_db=LEVEL - 1.8, ends=True)
    clean_dead = strings("clean dead", sounds.CLEAN_DEAD, DEAD_GUITAR_KEYS, 0.12, level_db=LEVEL - 3, ends=True)
    dead_bass = strings("dead bass", sounds.DEAD_BASS, DEAD_BASS_KEYS, 0.12, level_db=LEVEL - 1, ends=True)
    harmonics = strings("harmonic", sounds.HARMONICS, HARMONIC_KEYS, 0.5)
    harmonics_right = strings("harmonic right", sounds.HARMONICS_RIGHT, HARMONIC_KEYS, 0.5)
    clean_harmonics = strings("clean harmonic", sounds.CLEAN_HARMONICS, HARMONIC_KEYS, 0.5)
    fingered = strings("fingered", sounds.FINGERED, BASS_KEYS, 0.7)
    picked = strings("picked", sounds.PICKED, BASS_KEYS, 0.7)

    ringing = {"decay": timecents(13.0), "sustain": 1000, "release": timecents(0.28)}
    singing = {"decay": timecents(26.0), "sustain": 1000, "release": timecents(0.25)}
    dying = {"release": timecents(0.13)}
    bass = {"decay": timecents(14.0), "sustain": 1000, "release": timecents(0.25)}
    bass_muted = {"hold": timecents(0.05), "decay": timecents(4.0), "sustain": 1000, "release": timecents(0.2)}
    dark = {
        "filter": cents(2400.0), "filter envelope": 2300, "filter hold": timecents(0.1),
        "filter decay": timecents(5.0), "filter sustain": 1000,
    }  # fmt: skip
    strokes = {"hold": timecents(3.0), "decay": timecents(0.5), "sustain": 1000, "release": timecents(6.0)}

    instruments = [
        Instrument("Clean guitar", 0, 27, {**ringing, **dark}, across(clean)),
        Instrument("Clean guitar right", 1, 27, {**ringing, **dark}, across(clean_right)),
        Instrument("Palm-muted guitar", 0, 28, {**dying, "filter": cents(9000.0)}, muted, *DRIVEN),
        Instrument("Palm-muted right", 1, 28, {**dying, "filter": cents(9000.0)}, muted_right, *DRIVEN),
        Instrument("Palm-muted clean", 2, 28, {**dying, "filter": cents(7000.0)}, clean_muted),
        Instrument("Dead notes", 3, 28, {**dying, "filter": cents(8000.0)}, across(dead), *DRIVEN),
        Instrument("Dead notes clean", 4, 28, {**dying, "filter": cents(7000.0)}, across(clean_dead)),
        Instrument("Dead notes right", 5, 28, {**dying, "filter": cents(8000.0)}, across(dead_right), *DRIVEN),
        Instrument("Overdriven guitar", 0, 29, {**singing, "filter": cents(9000.0)}, across(overdrive), *DRIVEN),
        Instrument("Overdriven left", 1, 29, {**singing, "filter": cents(7000.0)}, across(overdrive), *DRIVEN),
        Instrument("Distortion guitar", 0, 30, {**singing, "filter": cents(10000.0)}, distortion, *DRIVEN),
        Instrument("Distortion right", 1, 30, {**singing, "filter": cents(10000.0)}, distortion_right, *DRIVEN),
        Instrument("Guitar harmonics", 0, 31, {**singing, "filter": cents(10000.0)}, across(harmonics), *DRIVEN),
        Instrument("Harmonics right", 1, 31, {**singing, "filter": cents(10000.0)}, across(harmonics_right), *DRIVEN),
        Instrument("Harmonics clean", 2, 31, {**ringing, "filter": cents(8000.0)}, across(clean_harmonics)),
        Instrument("Fingered bass", 0, 33, {**bass, "filter": cents(5000.0)}, across(fingered)),
        Instrument("Fingered bass muted", 1, 33, {**bass_muted, "filter": cents(2600.0)}, across(fingered, held=False)),
        Instrument("Fingered bass dead", 2, 33, {**dying, "filter": cents(2500.0)}, across(dead_bass)),
        Instrument("Picked bass", 0, 34, {**bass, "filter": cents(7000.0)}, across(picked), 820),
        Instrument(
            "Picked bass muted", 1, 34, {**bass_muted, "filter": cents(2200.0)}, across(picked, held=False), 820
        ),
        Instrument("Picked bass dead", 2, 34, {**dying, "filter": cents(5000.0)}, across(dead_bass), 820),
        Instrument("Rock kit", 128, 0, strokes, kit()),
    ]
    return write_soundfont(
        "Twinspur", "Synthesised by patches/build_bank.py, without recordings. MIT licence.", instruments
    )


def main() -> None:
    """Write the bank beside this script, or to the path given."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else BANK
    content = build()
    unfinished = target.with_name(target.name + ".part")
    unfinished.write_bytes(content)
    unfinished.replace(target)
    print(f"{target}: {len(content):,} bytes")


if __name__ == "__main__":
    main()
