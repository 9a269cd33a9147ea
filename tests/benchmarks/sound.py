"""How good the band sounds: the built-in bank beside the General MIDI banks installed here, each figure with its bound.

Run as `python -m tests.benchmarks.sound [--bank FILE …]`. Nobody listens here, so everything a guitarist would notice
first is a figure: the pick at a palm mute, how notes part at tempo, whether two guitars are two, what a chord does in
an amplifier, how the kit is balanced. Parts are rendered as the trainer plays them, by its patches; the bounds are the
project's own and hold for the built-in bank.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.benchmarks.sound_measures import (
    Bench,
    attack_ms,
    body_and_beater,
    centroid_octaves,
    consecutive,
    dip,
    drum_sixteenths,
    fall_ms,
    fundamental,
    largest_step,
    likeness,
    loudness,
    of_neither,
    once,
    pick,
    played,
    sixteenths,
)
from tests.sounds.hearing import RATE, Signal, note_of, synth
from trainer.sounds.articulation import Articulation
from trainer.sounds.find_banks import built_in_bank, find_banks
from trainer.sounds.load_patches import load_patches
from trainer.sounds.sound_bank import check_bank

LOW = (40, 43, 45, 47)
"""Where palm mutes are played: E2 to B2."""
NECK = tuple(range(40, 77))


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    name: str
    bound: str
    measure: Callable[[Bench], tuple[float, ...]]
    digits: int = 1


def alone(bench: Bench, patch: str, keys: tuple[int, ...], articulation: Articulation, seconds: float) -> list[Signal]:
    """Notes held for so long, one for each key, by the preset a patch plays them with."""
    preset = bench.rig.patch(patch).preset(articulation)
    with synth(bench.path) as (player, number):
        return [
            note_of(player, number, (preset.bank, preset.program), key + preset.transpose, seconds, 98) for key in keys
        ]


def drum(bench: Bench, piece: str) -> Signal:
    """One plain stroke on a piece of the kit."""
    kit = bench.rig.patch("drums").kit
    assert kit is not None  # drums have one
    key, velocity = kit.key(piece)
    with synth(bench.path) as (player, number):
        return note_of(player, number, (128, 0), key, 0.45, velocity)


def palm_pick(bench: Bench) -> tuple[float, ...]:
    """The pick of a palm mute on low keys, least and most."""
    found = [pick(each) for each in alone(bench, "rhythm left", LOW, Articulation.PALM_MUTED, 0.3)]
    return min(found), max(found)


def palm_fall(bench: Bench) -> tuple[float, ...]:
    """The low E palm-muted: as an eighth at 120 bpm, and held."""
    free = alone(bench, "rhythm left", (40,), Articulation.PALM_MUTED, 1.0)[0]
    return fall_ms(played(bench, once(40, mute=True), "rhythm left", 120)), fall_ms(free)


def palm_dip(bench: Bench) -> tuple[float, ...]:
    """Between palm-muted sixteenths at 200 bpm: all, and 1 to 5 kHz."""
    sound = played(bench, sixteenths(40), "rhythm left")
    return dip(sound), dip(sound, low=1000, high=5000)


def palm_level(bench: Bench) -> tuple[float, ...]:
    """Palm mutes against open notes, eight notes each for as long as a mute sounds: least and most."""
    found = []
    for key in LOW:
        muted, ringing = (played(bench, sixteenths(key, mute=mute), "rhythm left") for mute in (True, False))
        found.append(loudness(muted[: RATE * 6 // 5]) - loudness(ringing[: RATE * 6 // 5]))
    return min(found), max(found)


def kick(bench: Bench) -> tuple[float, ...]:
    """Double kick at 200 bpm: dip, and beater under body."""
    return dip(played(bench, drum_sixteenths("kick"), "drums")), body_and_beater(drum(bench, "kick"))


def balance(bench: Bench) -> tuple[float, ...]:
    """Snare against kick, ride against closed hat, in LU."""
    found = {piece: loudness(drum(bench, piece)) for piece in ("kick", "snare", "hat", "ride")}
    return found["snare"] - found["kick"], found["ride"] - found["hat"]


def crash_fall(bench: Bench) -> tuple[float, ...]:
    """Seconds in which the crash falls by 40 dB."""
    kit = bench.rig.patch("drums").kit
    assert kit is not None  # drums have one
    key, velocity = kit.key("crash")
    with synth(bench.path) as (player, number):
        return (fall_ms(note_of(player, number, (128, 0), key, 5.0, velocity), 40.0) / 1000,)


def sides(bench: Bench) -> tuple[float, ...]:
    """Left against right rhythm guitar, keys 40 to 64: the mean and the worst correlation, palm mutes and open."""
    found = []
    for kind in (Articulation.OPEN, Articulation.PALM_MUTED):
        both = (alone(bench, f"rhythm {side}", tuple(range(40, 65)), kind, 0.25) for side in ("left", "right"))
        found += [likeness(one, other) for one, other in zip(*both, strict=True)]
    return float(np.mean(found)), max(found)


def equal_notes(bench: Bench) -> tuple[float, ...]:
    """Consecutive equal notes: palm-muted guitar, snare."""
    muted = [consecutive(played(bench, sixteenths(key), "rhythm left", 50))[1] for key in (40, 45)]
    return max(muted), consecutive(played(bench, drum_sixteenths("snare"), "drums", 50))[1]


def evenness(bench: Bench) -> tuple[float, ...]:
    """The largest step of brightness between neighbouring keys of each distortion, in octaves."""
    return tuple(
        largest_step([centroid_octaves(each) for each in alone(bench, patch, NECK, Articulation.OPEN, 0.35)])[0]
        for patch in ("rhythm left", "rhythm right", "lead right")
    )


def power_chord(bench: Bench) -> tuple[float, ...]:
    """What of a power chord and of an octave belongs to no string: least and most."""
    found = [of_neither(played(bench, once(*keys), "rhythm left", 60), keys) for keys in ((40, 47), (43, 50), (45, 52))]
    return min(found), max(found)


def bass_fundamental(bench: Bench) -> tuple[float, ...]:
    """The picked bass's fundamental under its strongest partial on E1 to D2: the worst."""
    keys = (28, 31, 33, 36, 38)
    sounds = alone(bench, "picked bass", keys, Articulation.OPEN, 0.5)
    return (min(fundamental(sound, key) for sound, key in zip(sounds, keys, strict=True)),)


def attacks(bench: Bench) -> tuple[float, ...]:
    """The slowest attack of both distortions on keys 40 to 76, in ms."""
    return tuple(
        max(attack_ms(each) for each in alone(bench, f"rhythm {side}", NECK, Articulation.OPEN, 0.15))
        for side in ("left", "right")
    )


TABLE = (
    Row("palm mute: 2-6 kHz, stroke over 60 ms later, dB", ">= 15", palm_pick),
    Row("low E palm mute falls 20 dB in, played / free, ms", "80-150", palm_fall, 0),
    Row("dip of sixteenths at 200 bpm, full / 1-5 kHz, dB", ">= 13 / >= 16", palm_dip),
    Row("palm mute against open, LU", "-4 to -3", palm_level),
    Row("double kick: dip; beater under body, dB", ">= 20; >= -16", kick),
    Row("snare against kick; ride against closed hat, LU", "+2; 0", balance),
    Row("crash falls 40 dB in, s", ">= 2.5", crash_fall),
    Row("left/right rhythm correlation, mean; worst", "<= .5; <= .7", sides, 2),
    Row("equal notes in turn, palm mute; snare", "<= .6; <= .9", equal_notes, 3),
    Row("brightness step, rhythm L, R, lead R, octaves", "<= 0.3", evenness, 2),
    Row("power chord: energy of neither string, dB", "-15 to -6", power_chord),
    Row("picked bass: fundamental under strongest, dB", ">= -5", bass_fundamental),
    Row("distortion: slowest attack, L, R, ms", "<= 10", attacks),
)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--bank", type=Path, action="append", help="a bank instead of the built-in and the installed")
    parser.add_argument("--only", help="rows whose name has this in it")
    arguments = parser.parse_args()
    banks = arguments.bank or [built_in_bank(), *(path for path in find_banks() if not path.is_symlink())]
    rig = load_patches()
    benches = []
    for path in banks:
        bank = check_bank(path)
        if any(each.program == 30 and each.bank == 0 for each in bank.presets):
            benches.append(Bench(path.stem, path, rig.fitted_to(bank)))
    print(f"{'':<52}" + "".join(f"{bench.name[:20]:>22}" for bench in benches) + f"{'bound':>16}")
    for row in TABLE:
        if arguments.only and arguments.only not in row.name:
            continue
        print(f"{row.name:<52}", end="")
        for bench in benches:
            told = " / ".join(f"{value:.{row.digits}f}" for value in row.measure(bench))
            print(f"{told:>22}", end="", flush=True)
        print(f"{row.bound:>16}")


if __name__ == "__main__":
    main()
