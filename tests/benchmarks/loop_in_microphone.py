"""How often the loop is found in the microphone, and how often it is found where it is not.

Run as `python -m tests.benchmarks.loop_in_microphone [--takes 60]`. Every bundled exercise's riffs with two guitars are
rendered without the player's part; the player (plucked strings, 4 ms of jitter) plays the part in time with it, and
the loop is mixed in at several levels through a small room's reflections. Levels are those of the loop's root mean
square against the player's. A false alarm is one that is given where nothing of the loop is mixed in: with the
player's plucked strings; with another player's gallop on the part's lowest note at the tempo, begun anywhere; and, as
the hardest case, with the part rendered by the same synth through the same patch, which no real guitar is. Two peers
in the same run: the delay of the whole take alone, and onset strengths (how far the onsets of the loop, where the
player's part rests, stand out of the take at one lag).
"""

import argparse
import random
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np

from tests.listening.plucked import gallop, player, record
from trainer.arranging.realise import realise_exercise
from trainer.listening.loop_in_take import COARSE_RATE, STANDS_OUT, _best, loop_lag
from trainer.listening.sound import Sound
from trainer.listening.strength import onset_strength
from trainer.listening.written_part import written_part
from trainer.music.exercise import Exercise
from trainer.music.riff import Riff
from trainer.notation.files import read_file
from trainer.playback.mix import CLICK, Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches

RATE = 48_000
LEVELS = (0, -10, -20, -30, -40)
MINE = "guitar 1"
MIXES = ("click only", "the other guitar", "everybody")


def riffs() -> list[tuple[Exercise, Riff]]:
    found = []
    for path in sorted(Path("exercises").glob("*.md")):
        if path.name != "README.md":
            exercise = realise_exercise(read_file(path), path.name)
            for riff in exercise.riffs:
                names = Piece.of(exercise, (riff,)).part_names
                if MINE in names and "guitar 2" in names:
                    found.append((exercise, riff))
    return found


def rendered(timeline: Timeline, share: Fraction, mix: Mix, click: bool, start: int = 0) -> np.ndarray:
    """What a pass sounds like, mono, beginning at a frame of the synth's clock."""
    plan = Plan(loop=timeline.piece.whole, share=share, passes=1, click=load_patches().click_pattern("beats"), mix=mix)
    synth = OfflineSynth(built_in_bank(), SynthOptions(rate=RATE), click_keys(timeline))
    synth.render(start) if start else None
    try:
        sound = np.concatenate(list(sound_of(timeline, plan, synth)))
    finally:
        synth.close()
    return sound.mean(axis=1)


def room(sound: np.ndarray, seed: int) -> np.ndarray:
    """Through a loudspeaker and a small room: a delay, eight reflections, and less treble."""
    rng = np.random.default_rng(seed)
    delay = int(rng.uniform(0.02, 0.2) * RATE)
    out = np.zeros(len(sound) + RATE, np.float32)
    for number in range(9):
        at = delay + int(rng.uniform(0.001, 0.04) * RATE * (number > 0))
        gain = 1.0 if number == 0 else float(rng.uniform(-0.5, 0.5)) * 0.8**number
        out[at : at + len(sound)] += gain * sound
    spectrum = np.fft.rfft(out)
    spectrum /= 1 + 1j * np.fft.rfftfreq(len(out), 1 / RATE) / 4_000
    return np.fft.irfft(spectrum, len(out)).astype(np.float32)


def by_whole(take: Sound, loop: Sound) -> bool:
    """Whether one delay of the whole stands out, without asking the halves."""
    heard, played = (np.diff(sound.lowered(COARSE_RATE).samples).astype(float) for sound in (take, loop))
    return _best(heard, played, 0, round(1.5 * take.lowered(COARSE_RATE).rate))[1] > STANDS_OUT


def by_onsets(take: Sound, loop: Sound, mine: np.ndarray) -> float:
    """How far one lag stands out between the onset strengths of take and loop, without the player's own moments."""
    heard, played = onset_strength(take), onset_strength(loop)
    hop = heard.hop_s
    free = np.ones(len(played.values))
    for at in mine:
        free[max(0, int((at - 0.05) / hop)) : int((at + 0.05) / hop) + 1] = 0
    values = played.values * free
    if np.count_nonzero(values) < 20:
        return 0.0
    lags = np.arange(0, int(0.5 / hop))
    out = heard.values - heard.values.mean()
    scores = np.array([float(out[lag : lag + len(values)] @ values[: len(out) - lag]) for lag in lags])
    return float((scores.max() - np.median(scores)) / (np.std(scores) + 1e-12))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--takes", type=int, default=60)
    arguments = parser.parse_args()
    every, chance = riffs(), random.Random(1)
    rig = load_patches()
    counts: dict[tuple[str, str], list[tuple[bool, float]]] = {}
    for number in range(arguments.takes):
        exercise, riff = every[number % len(every)]
        piece = Piece.of(exercise, (riff,))
        timeline = Timeline.of(piece, rig)
        share = Fraction(chance.randint(60, 100), 100)
        kind = MIXES[number % len(MIXES)]
        parts = (*piece.part_names, CLICK)
        mix = Mix().without(MINE)
        if kind == "click only":
            mix = Mix().only([CLICK], parts)
        elif kind == "the other guitar":
            mix = Mix().only(["guitar 2", CLICK], parts)
        written = written_part(riff, MINE, share * riff.tempo.target)
        seconds = float(written.length) + 0.6
        notes = player(written, 0.15, 4.0, seed=number)
        own = record(notes, seconds, seed=number, rate=RATE).samples
        start = chance.randrange(64)
        live = rendered(timeline, share, mix, True, start)
        loop = Sound(rendered(timeline, share, mix, True, start)[: int(seconds * RATE)], RATE)
        twin = np.zeros_like(own)
        solo = rendered(timeline, share, Mix().only([MINE], parts).without(CLICK), False)
        twin[int(0.15 * RATE) :][: len(solo)] = solo[: len(twin) - int(0.15 * RATE)]
        mine = np.array([float(stroke.at) for stroke in written.strokes])
        noise = np.random.default_rng(number).normal(0, 1e-4, len(own)).astype(np.float32)
        leaked = room(live, number)[: len(own)]
        leaked = np.pad(leaked, (0, len(own) - len(leaked)))
        power = float(np.sqrt(np.mean(own**2)) / (np.sqrt(np.mean(leaked**2)) + 1e-12))
        lowest = min(pitch for stroke in written.strokes for pitch in stroke.pitches)
        bars = int(seconds / (240 / float(share * riff.tempo.target))) + 2
        beside = player(gallop(float(share * riff.tempo.target), bars, lowest), chance.uniform(-0.5, 0.5), 4.0, number)
        other = record([note for note in beside if 0 < note.at_s < seconds - 0.1], seconds, seed=number, rate=RATE)
        cases = {
            "none, plucked": own + noise,
            "none, a gallop": other.samples + noise,
            "none, same synth": twin + noise,
        }
        cases.update({f"{level} dB": own + noise + leaked * power * 10 ** (level / 20) for level in LEVELS})
        for name, samples in cases.items():
            take = Sound(samples.astype(np.float32), RATE)
            found = loop_lag(take, loop, latest_s=0.8) is not None
            counts.setdefault((kind, name), []).append((found, by_whole(take, loop), by_onsets(take, loop, mine)))
    names = list(dict.fromkeys(name for _, name in counts))
    edge = max(score for (_, name), each in counts.items() if name == "none, plucked" for *_, score in each)
    print(f"{'':20} {'mixed in':18} {'takes':>5} {'found':>7} {'by whole':>9} {'by onsets':>10}")
    for kind in MIXES:
        for name in names:
            each = counts.get((kind, name), [])
            if each:
                ours, whole, onsets = (
                    100 * float(np.mean(values))
                    for values in ([a for a, _, _ in each], [b for _, b, _ in each], [s > edge for _, _, s in each])
                )
                print(f"{kind:20} {name:18} {len(each):5} {ours:6.0f}% {whole:8.0f}% {onsets:9.0f}%")
    return 0


if __name__ == "__main__":
    sys.exit(main())
