"""New takes with known truth: cuts set to an invented riff by a human model, with the trouble that players have."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from tests.benchmarks.recut.chain import Chain, another_guitar, hand_noise, mixed_chain, through
from tests.benchmarks.recut.notes import RATE, Cut, Wave, voices
from tests.benchmarks.recut.riffs import FAMILIES, Asked, riff
from tests.listening.truth import TrueTake, written
from trainer.listening.sound import Sound


@dataclass(frozen=True)
class Human:
    """What is done to the timing and the notes."""

    jitter_ms: float
    bias_ms: float
    drift_ms: float
    walk_ms: float
    gallop_ms: float
    missed: float
    wrong: float
    extra: float
    noises: float
    strum_ms: float


HUMANS = {
    "tight": Human(4, 0, 0, 1, 0, 0, 0, 0, 0, 5),
    "mid": Human(9, -8, 0.3, 2, 12, 0.03, 0.03, 0.02, 0.05, 9),
    "loose": Human(16, 12, -0.5, 4, 22, 0.06, 0.05, 0.05, 0.1, 14),
    "wild": Human(25, -18, 1.0, 5, -15, 0.08, 0.08, 0.06, 0.12, 18),
}
TROUBLES = ("", "", "", "first missed", "last missed", "row missed", "extra first", "rest")
SLIPS = (-2, -1, 1, 2, -5, 5)


@dataclass
class _Note:
    """One note as it is played."""

    at_s: float
    seconds: float
    pitches: tuple[int, ...]
    art: str
    level: float
    truth: dict[str, Any]


def _slip(rng: np.random.Generator, asked: Sequence[Asked], index: int) -> tuple[int, ...]:
    """What is played in place of a stroke: one of its neighbours, or a plain distance away."""
    right = asked[index].pitches
    near = [
        other.pitches
        for other in asked[max(0, index - 2) : index + 3]
        if other.pitches != right and len(other.pitches) == len(right) and abs(other.pitches[0] - right[0]) <= 7
    ]
    if near and rng.random() < 0.4:
        return near[int(rng.integers(len(near)))]
    step = int(rng.choice(SLIPS))
    return tuple(pitch + step for pitch in right)


def _left_out(trouble: str, rng: np.random.Generator, count: int) -> set[int]:
    first = int(rng.integers(count // 4, count // 2))
    return {
        "first missed": {0, 1} if rng.random() < 0.3 else {0},
        "last missed": set(range(count - int(rng.integers(1, 4)), count)),
        "row missed": set(range(first, first + int(rng.integers(2, 4)))),
    }.get(trouble, set())


def _play(
    asked: Sequence[Asked], rng: np.random.Generator, human: Human, bpm: int, start_s: float, trouble: str
) -> tuple[list[_Note], list[dict[str, Any]]]:
    """The notes as played, and the truth about every written and every extra one."""
    beat = 60 / bpm
    left_out = _left_out(trouble, rng, len(asked))
    played: list[_Note] = []
    truth: list[dict[str, Any]] = []
    walk, last = 0.0, 0.0

    def extra(at: float, index: int, seconds: float) -> None:
        pitch = int(np.clip(asked[index].pitches[0] + rng.integers(-3, 4), 40, 80))
        art = "pm" if asked[index].art == "pm" else "open"
        note = {"i": None, "onset": at, "status": "extra", "played": [pitch], "dev_ms": None, "expected": None}
        truth.append(note)
        played.append(_Note(at, seconds, (pitch,), art, 0.75, note))

    for index, item in enumerate(asked):
        due = start_s + item.beat * beat
        walk = 0.95 * walk + rng.normal(0, 0.3 * human.walk_ms)
        off = rng.normal(0, 0.7 * human.jitter_ms) + human.bias_ms + walk + human.drift_ms * item.beat / 2
        at = max(due + (off + human.gallop_ms * (item.role == "s2")) / 1000, last + 0.045)
        note = {"i": index, "expected": due, "written": list(item.pitches), "art": item.art, "status": "ok"}
        truth.append(note)
        if index in left_out or rng.random() < human.missed:
            note |= {"onset": None, "status": "missed", "played": None, "dev_ms": None}
            continue
        if trouble == "extra first" and not played:
            extra(at - float(rng.uniform(0.15, 0.35)), index, 0.12)
        pitches = item.pitches
        if rng.random() < human.wrong:
            pitches, note["status"] = _slip(rng, asked, index), "wrong"
        note |= {"onset": at, "played": list(pitches), "dev_ms": (at - due) * 1000}
        level = (1.0 if item.beat % 1 == 0 else 0.82) * float(rng.uniform(0.8, 1.1))
        played.append(_Note(at, item.beats * beat, pitches, item.art, level, note))
        last = at
        if rng.random() < human.extra and item.beats * beat > 0.12:
            last = at + item.beats * beat / 2
            extra(last, index, item.beats * beat * 0.4)
    played.sort(key=lambda each: each.at_s)
    truth.sort(key=lambda note: note["onset"] or note["expected"])
    return played, truth


def _mixed(
    played: Sequence[_Note], rng: np.random.Generator, pool: Sequence[Cut], source: str, strum_s: float, frames: int
) -> Wave:
    """All notes in one wave; a note ends where the next begins."""
    out = np.zeros(frames)
    for place, note in enumerate(played):
        parts, offsets = voices(rng, pool, source, note.pitches, note.art, note.seconds, strum_s)
        note.truth["strings"] = [note.at_s + offset for offset in offsets]
        following = played[place + 1].at_s if place + 1 < len(played) else note.at_s + 0.7
        rings = note.art == "open" and rng.random() < 0.7
        stop = following if rings else min(following, note.at_s + 1.02 * note.seconds)
        for part in parts:
            begin = note.at_s + part.at_s
            sound = note.level * (0.6 if note.art == "hammer" else 1.0) * part.samples
            sound = sound[: max(1, round((stop - begin) * RATE))].copy()
            fade, rise = min(round(0.006 * RATE), len(sound)), min(round(0.0015 * RATE), len(sound))
            sound[-fade:] *= np.linspace(1, 0, fade)
            sound[:rise] *= np.linspace(0, 1, rise)
            if note.art == "hammer":
                soft = min(round(0.012 * RATE), len(sound))
                sound[:soft] *= np.linspace(0.15, 1, soft)
            first = round(begin * RATE)
            out[first : first + len(sound)] += sound
    return out


def _noises(
    out: Wave, played: Sequence[_Note], rng: np.random.Generator, pool: Sequence[Cut], often: float
) -> tuple[float, ...]:
    """Mix in noises of hands between notes; when they come."""
    loud = np.percentile(np.abs(out), 99.5)
    found = []
    for note, following in pairwise(played):
        if rng.random() < often and following.at_s - note.at_s > 0.09:
            at = float(rng.uniform(note.at_s + 0.04, following.at_s - 0.03))
            sound = hand_noise(rng, pool) * 10 ** (rng.uniform(-20, -11.5) / 20) * loud
            first = round(at * RATE)
            out[first : first + len(sound)] += sound
            found.append(at)
    return tuple(found)


def recut(seed: int, pool: Sequence[Cut], chain: Chain | None = None) -> TrueTake:
    """The take of a seed; its name tells family, guitar, tempo, human, drive and trouble."""
    rng = np.random.default_rng(seed)
    family = list(FAMILIES)[seed % len(FAMILIES)]
    source = str(rng.choice(sorted({cut.source for cut in pool})))
    name = str(rng.choice(list(HUMANS), p=[0.15, 0.3, 0.3, 0.25]))
    human, bpm = HUMANS[name], int(rng.integers(90, 191))
    chain = chain or mixed_chain(rng)
    trouble = str(rng.choice(TROUBLES))
    asked = riff(family, rng, bpm, rest=trouble == "rest")
    start_s = float(rng.uniform(0.45, 1.5))
    played, truth = _play(asked, rng, human, bpm, start_s, trouble)
    frames = round((start_s + (asked[-1].beat + asked[-1].beats) * 60 / bpm + 1.5) * RATE)
    out = _mixed(played, rng, pool, source, human.strum_ms / 1000, frames + RATE)
    noises = _noises(out, played, rng, pool, human.noises)
    if rng.random() < 0.4:
        out = another_guitar(out, rng)
    heard = through(out[:frames], chain, rng) * (0.1 if rng.random() < 0.2 else 1.0)
    title = f"{seed:03}_{family}_{source}_{bpm}_{name}_d{chain.drive:g}{'_' if trouble else ''}{trouble}"
    score = [
        {"beat": item.beat, "dur": item.beats, "pitches": item.pitches, "art": item.art, "role": item.role}
        for item in asked
    ]
    part = written({"bpm": bpm, "score": score})
    return TrueTake(title, Sound(heard.astype(np.float32), RATE), part, tuple(truth), noises, chain.drive)


def driven_more(take: TrueTake, gain: float) -> TrueTake:
    """The same take through one more stage of drive."""
    samples = take.sound.samples / (np.abs(take.sound.samples).max() + 1e-9)
    return replace(take, sound=Sound((0.3 * np.tanh(gain * samples)).astype(np.float32), take.sound.rate))
