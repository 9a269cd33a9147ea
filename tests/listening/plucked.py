"""A guitarist for tests: plucked strings computed from their partials, played with known faults.

Nothing here is shared with the room under test. A string is a sum of decaying, slightly stretched partials, excited
at one place and touched by a pick for a moment before it is let go.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from trainer.listening.sound import Sound
from trainer.listening.written import GallopNote, WrittenPart, WrittenStroke

RATE = 48_000


@dataclass(frozen=True)
class Played:
    """One stroke as the guitarist plays it."""

    at_s: float
    length_s: float
    pitches: tuple[int, ...]
    muted: bool = False
    slurred: bool = False
    loudness: float = 1.0
    strum_s: float = 0.004
    of: int = -1
    """Index of the written stroke that it is, or that it follows."""


def string(pitch: float, seconds: float, rng: np.random.Generator, muted: bool, slurred: bool, rate: int) -> np.ndarray:
    time = np.arange(int(seconds * rate)) / rate
    frequency = 440 * 2 ** ((pitch - 69) / 12)
    sound = np.zeros(len(time))
    place = rng.uniform(0.12, 0.2)
    for n in range(1, min(40, int(9_000 / frequency)) + 1):
        partial = n * frequency * np.sqrt(1 + 7e-5 * n * n)
        life = (0.12 if muted else 1.2) / (1 + (0.35 if muted else 0.12) * n)
        strength = abs(np.sin(np.pi * n * place)) / n ** (1.6 if slurred else 1.0)
        sound += strength * np.exp(-time / life) * np.sin(2 * np.pi * partial * time + rng.uniform(0, 0.6))
    if not slurred:
        burst = int(0.0025 * rate)
        sound[:burst] += rng.normal(0, 0.5, burst) * np.linspace(1, 0, burst)
    rise = int((0.003 if slurred else 0.0004) * rate)
    sound[:rise] *= np.linspace(0, 1, rise)
    return sound


def record(
    notes: Sequence[Played], seconds: float, seed: int = 1, noise_db: float = -60.0, drive: float = 0.0,
    rate: int = RATE,
) -> Sound:  # fmt: skip
    """What a direct box would record: a stroke ends the one before it."""
    rng = np.random.default_rng(seed)
    out = np.zeros(int(seconds * rate))
    order = sorted(notes, key=lambda note: note.at_s)
    for note, following in zip(order, [*order[1:], None], strict=True):
        until = min(note.at_s + note.length_s, following.at_s if following else seconds)
        for place, pitch in enumerate(note.pitches):
            start = note.at_s + note.strum_s * place / max(1, len(note.pitches) - 1)
            tone = string(pitch, max(until - start, 0.03), rng, note.muted, note.slurred, rate)
            fade = min(len(tone), int(0.006 * rate))
            tone[-fade:] *= np.linspace(1, 0, fade)
            first = round(start * rate)
            room = max(0, min(len(tone), len(out) - first))
            out[first : first + room] += note.loudness * tone[:room]
    out *= 0.3 / (np.abs(out).max() + 1e-9)
    if drive:
        out = np.tanh(drive * 4 * out) * 0.3
    out += rng.normal(0, 10 ** (noise_db / 20), len(out))
    return Sound(out.astype(np.float32), rate)


def gallop(tempo_bpm: float = 120, bars: int = 4, pitch: int = 40) -> WrittenPart:
    """One low palm-muted note in eighth and two sixteenths."""
    beat = Fraction(60) / Fraction(tempo_bpm)
    figure = ((Fraction(0), Fraction(1, 2), GallopNote.LONG, "", "down"),
              (Fraction(1, 2), Fraction(1, 4), GallopNote.FIRST_SHORT, " &", "down"),
              (Fraction(3, 4), Fraction(1, 4), GallopNote.SECOND_SHORT, " a", "up"))  # fmt: skip
    strokes = [
        WrittenStroke(
            at=(4 * bar + count + at) * beat, length=length * beat, pitches=(pitch,), bar=bar + 1,
            count=f"{count + 1}{name}", pick=pick, figure=place, muted=True, strings=(6,),
            offset=Fraction(4 * bar + count + at) / 4,
        )
        for bar in range(bars) for count in range(4) for at, length, place, name, pick in figure
    ]  # fmt: skip
    return WrittenPart(tuple(strokes), 4 * bars * beat, tempo_bpm)


def line(pitches: Sequence[int | tuple[int, ...]], tempo_bpm: float = 120, grid: int = 2) -> WrittenPart:
    """One stroke after another, `grid` of them in a beat of 4/4, down and up in turn."""
    beat = Fraction(60) / Fraction(tempo_bpm)
    names = {1: ("",), 2: ("", " &"), 4: ("", " e", " &", " a")}[grid]
    strokes = []
    for index, item in enumerate(pitches):
        chord = item if isinstance(item, tuple) else (item,)
        count = index // grid
        strokes.append(
            WrittenStroke(
                at=index * beat / grid, length=beat / grid, pitches=chord, bar=count // 4 + 1,
                count=f"{count % 4 + 1}{names[index % grid]}", pick="down" if index % 2 == 0 else "up",
                offset=Fraction(index, 4 * grid),
            )
        )  # fmt: skip
    length = -(-len(pitches) // (4 * grid)) * 4 * beat
    return WrittenPart(tuple(strokes), length, tempo_bpm)


def player(written: WrittenPart, start_s: float = 0.7, jitter_ms: float = 4.0, seed: int = 1) -> list[Played]:
    """The part played through with some jitter and no fault."""
    rng = np.random.default_rng(seed)
    return [
        Played(
            start_s + float(stroke.at) + rng.normal(0, jitter_ms / 1000), float(stroke.length), stroke.pitches,
            stroke.muted, stroke.slurred, float(rng.uniform(0.75, 1.0)), of=index,
        )
        for index, stroke in enumerate(written.strokes)
    ]  # fmt: skip


def late(notes: Sequence[Played], which: Sequence[int], ms: float) -> list[Played]:
    """The same with some strokes late."""
    return [replace(note, at_s=note.at_s + ms / 1000) if k in which else note for k, note in enumerate(notes)]
