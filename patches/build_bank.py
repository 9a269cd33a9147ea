"""Synthesises the built-in sound bank: `python patches/build_bank.py` writes `patches/twinspur.sf2`.

No recording is used. Every step is arithmetic that IEEE 754 fixes to the last bit, or is rounded coarsely enough, so
the file comes out the same to the byte on every machine; a test builds it anew and compares.

Presets stand at their General MIDI programs. Variation banks hold the other side's sound: the same samples from
neighbouring zones through another filter, so that left and right are two guitars and not one guitar twice.
"""

import math
import sys
from pathlib import Path

import drum_model
import numpy as np
from filters import Signal, loudness
from soundfont_writer import Instrument, Sample, Zone, write_soundfont
from string_model import StringSound, looped, string

BANK = Path(__file__).resolve().with_name("twinspur.sf2")

GUITAR_KEYS = range(33, 94, 4)
"""A guitar's sample roots: from A1, for seven strings tuned low, to A6; fret 24 of the thinnest string is E6."""

BASS_KEYS = range(23, 68, 4)
"""A bass's sample roots: B0, the lowest of five strings, to G4, fret 24 of the thinnest."""

DEAD_GUITAR_KEYS = range(38, 87, 12)
DEAD_BASS_KEYS = range(28, 65, 12)
HARMONIC_KEYS = range(41, 98, 6)

LEVEL = -17.0
"""Decibels below full scale of every string sample's loudness over its first 0.3 s (`filters.loudness`)."""

CLEAN = StringSound(24000, 0.11, 5200.0, 0.10, 0.16, 7.0, 1.5, "clean")
OVERDRIVE = StringSound(24000, 0.09, 5600.0, 0.14, 0.13, 9.0, 1.6, "overdrive")
DISTORTION = StringSound(24000, 0.075, 6500.0, 0.16, 0.07, 9.0, 1.6, "distortion")
MUTED = StringSound(24000, 0.10, 5200.0, 0.22, 0.10, 0.60, 0.12, "muted distortion", 1.5, 2400.0)
CLEAN_MUTED = StringSound(24000, 0.11, 4200.0, 0.16, 0.13, 0.60, 0.10, "muted clean", 1.5, 2000.0)
DEAD = StringSound(24000, 0.10, 4500.0, 1.2, 0.10, 0.07, 0.04, "muted distortion", 1.5, 2600.0)
CLEAN_DEAD = StringSound(24000, 0.11, 4000.0, 1.0, 0.13, 0.07, 0.04, "muted clean", 1.5, 2600.0)
HARMONICS = StringSound(24000, 0.31, 6000.0, 0.10, 0.33, 6.0, 2.2, "harmonics", 0.6)
CLEAN_HARMONICS = StringSound(24000, 0.31, 6000.0, 0.06, 0.33, 6.0, 2.2, "clean", 0.6)
FINGERED = StringSound(20000, 0.19, 1500.0, 0.05, 0.24, 7.0, 0.7, "bass")
DEAD_BASS = StringSound(20000, 0.10, 3000.0, 1.0, 0.15, 0.08, 0.04, "bass", 1.5, 2000.0)
PICKED = StringSound(20000, 0.08, 4200.0, 0.16, 0.13, 7.0, 0.9, "driven bass")


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


def strings(
    name: str, sound: StringSound, keys: range, seconds: float, *, level_db: float = LEVEL, ends: bool = False
) -> list[Sample]:
    """One sample for each root key, all equally loud; low notes are longer. `ends` is for sounds that die away."""
    samples = []
    for number, key in enumerate(keys):
        lasting = seconds * (1.25 - 0.5 * number / (len(keys) - 1))
        signal, rate, period = string(sound, key, lasting, seed=1000 + key)
        signal = signal * (10 ** (level_db / 20) / loudness(signal[: int(0.3 * rate)], rate))
        fade = min(len(signal) // 4, int(0.08 * rate))
        loop = None
        if ends:
            signal[-fade:] = signal[-fade:] * (np.arange(fade, 0, -1) / fade)
        else:
            signal, loop = looped(signal, period)
        samples.append(Sample(f"{name} {key}", sixteen_bits(signal), rate, key, loop))
    return samples


def across(samples: list[Sample], shift: int = 0, *, held: bool = True) -> list[Zone]:
    """The samples side by side over all keys, each around its root; `shift` moves them up or down by so many keys.

    A note's level is the sample's own until its loop, which does not fall, and the envelope's from there; with `held`
    false it falls from the beginning.
    """
    zones, low = [], 0
    for number, sample in enumerate(samples):
        last = number == len(samples) - 1
        high = 127 if last else (sample.root + samples[number + 1].root) // 2 + shift
        settings = {"hold": timecents(sample.loop[0] / sample.rate)} if sample.loop and held else {}
        zones.append(Zone(sample, low, high, settings))
        low = high + 1
    return zones


def drum(name: str, signal: Signal, level_db: float, *, rate: int = drum_model.RATE) -> Sample:
    """A drum's sample at a peak of `level_db`, ending in silence."""
    signal = signal * (10 ** (level_db / 20) / float(np.max(np.abs(signal))))
    fade = len(signal) // 4
    signal[-fade:] = signal[-fade:] * (np.arange(fade, 0, -1) / fade)
    return Sample(name, sixteen_bits(signal), rate, 60)


def kit() -> list[Zone]:
    """The kit by the General MIDI percussion map, and the two clicks on the wood blocks' keys (also on 33 and 34)."""
    kick, snare = drum("kick", drum_model.kick(), -1.0), drum("snare", drum_model.snare(), -3.5)
    stick = drum("side stick", drum_model.side_stick(), -3.0)
    closed, opened = drum("hat closed", drum_model.hat(False), -2.0), drum("hat open", drum_model.hat(True), -4.0)
    ride, bell = drum("ride", drum_model.ride(False), -5.0), drum("ride bell", drum_model.ride(True), -5.0)
    crash = drum("crash", drum_model.crash(), -2.0)
    high_tom, low_tom = (
        drum("tom high", drum_model.tom(165.0, 71), -3.0),
        drum("tom low", drum_model.tom(92.0, 72), -2.0),
    )
    high_click, low_click = (
        drum("click high", drum_model.click(1760.0), -0.5),
        drum("click low", drum_model.click(1175.0), -0.5),
    )
    pieces: list[tuple[int, Sample, int, int, int]] = [
        # key, sample, cents, pan, choke class
        (33, low_click, 0, 0, 0), (34, high_click, 0, 0, 0),
        (35, kick, -100, 0, 0), (36, kick, 0, 0, 0), (37, stick, 0, 0, 0),
        (38, snare, 0, 0, 0), (40, snare, 150, 0, 0),
        (41, low_tom, 0, 160, 0), (43, low_tom, 200, 120, 0), (45, low_tom, 450, 60, 0),
        (47, high_tom, -250, -20, 0), (48, high_tom, 0, -80, 0), (50, high_tom, 250, -120, 0),
        (42, closed, 0, -140, 1), (44, closed, -300, -140, 1), (46, opened, 0, -140, 1),
        (49, crash, 0, -180, 0), (52, crash, 500, 200, 0), (55, crash, 700, 120, 0), (57, crash, -250, 180, 0),
        (51, ride, 0, 150, 0), (59, ride, -200, 150, 0), (53, bell, 0, 150, 0), (56, bell, -700, 0, 0),
        (76, high_click, 0, 0, 0), (77, low_click, 0, 0, 0),
    ]  # fmt: skip
    zones = []
    for key, sample, tune, pan, choke in sorted(pieces, key=lambda piece: piece[0]):
        semitones = round(tune / 100)
        settings = {"root": key, "semitones": semitones, "tune": tune - 100 * semitones, "pan": pan}
        zones.append(Zone(sample, key, key, settings | ({"chokes": choke} if choke else {})))
    return zones


def build() -> bytes:
    """The whole bank."""
    clean = strings("clean", CLEAN, GUITAR_KEYS, 0.85)
    overdrive = strings("overdrive", OVERDRIVE, GUITAR_KEYS, 0.72)
    distortion = strings("distortion", DISTORTION, GUITAR_KEYS, 0.72)
    muted = strings("muted", MUTED, GUITAR_KEYS, 0.42, level_db=LEVEL - 1, ends=True)
    clean_muted = strings("clean muted", CLEAN_MUTED, GUITAR_KEYS, 0.34, ends=True)
    dead = strings("dead", DEAD, DEAD_GUITAR_KEYS, 0.12, level_db=LEVEL - 1, ends=True)
    clean_dead = strings("clean dead", CLEAN_DEAD, DEAD_GUITAR_KEYS, 0.12, level_db=LEVEL - 3, ends=True)
    dead_bass = strings("dead bass", DEAD_BASS, DEAD_BASS_KEYS, 0.12, level_db=LEVEL - 1, ends=True)
    harmonics = strings("harmonic", HARMONICS, HARMONIC_KEYS, 0.6)
    clean_harmonics = strings("clean harmonic", CLEAN_HARMONICS, HARMONIC_KEYS, 0.6)
    fingered = strings("fingered", FINGERED, BASS_KEYS, 0.8)
    picked = strings("picked", PICKED, BASS_KEYS, 0.8)

    ringing = {"decay": timecents(13.0), "sustain": 1000, "release": timecents(0.28)}
    singing = {"decay": timecents(26.0), "sustain": 1000, "release": timecents(0.25)}
    dying = {"release": timecents(0.2)}
    bass = {"decay": timecents(14.0), "sustain": 1000, "release": timecents(0.25)}
    bass_muted = {"hold": timecents(0.05), "decay": timecents(4.0), "sustain": 1000, "release": timecents(0.2)}
    dark = {
        "filter": cents(2400.0), "filter envelope": 2300, "filter hold": timecents(0.1),
        "filter decay": timecents(5.0), "filter sustain": 1000,
    }  # fmt: skip
    strokes = {"hold": timecents(3.0), "decay": timecents(0.5), "sustain": 1000, "release": timecents(6.0)}

    instruments = [
        Instrument("Clean guitar", 0, 27, {**ringing, **dark}, across(clean)),
        Instrument("Clean guitar right", 1, 27, {**ringing, **dark, "filter": cents(1900.0)}, across(clean, 2)),
        Instrument("Palm-muted guitar", 0, 28, {**dying, "filter": cents(9000.0)}, across(muted), *DRIVEN),
        Instrument("Palm-muted right", 1, 28, {**dying, "filter": cents(6000.0)}, across(muted, 2), *DRIVEN),
        Instrument("Palm-muted clean", 2, 28, {**dying, "filter": cents(7000.0)}, across(clean_muted)),
        Instrument("Dead notes", 3, 28, {**dying, "filter": cents(8000.0)}, across(dead), *DRIVEN),
        Instrument("Dead notes clean", 4, 28, {**dying, "filter": cents(7000.0)}, across(clean_dead)),
        Instrument("Overdriven guitar", 0, 29, {**singing, "filter": cents(9000.0)}, across(overdrive), *DRIVEN),
        Instrument("Overdriven left", 1, 29, {**singing, "filter": cents(7000.0)}, across(overdrive, -2), *DRIVEN),
        Instrument("Distortion guitar", 0, 30, {**singing, "filter": cents(10000.0)}, across(distortion), *DRIVEN),
        Instrument("Distortion right", 1, 30, {**singing, "filter": cents(6500.0)}, across(distortion, 2), *DRIVEN),
        Instrument("Guitar harmonics", 0, 31, {**singing, "filter": cents(10000.0)}, across(harmonics), *DRIVEN),
        Instrument("Harmonics right", 1, 31, {**singing, "filter": cents(7000.0)}, across(harmonics, 2), *DRIVEN),
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
