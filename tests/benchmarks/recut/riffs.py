"""Invented riffs of the families that the takes have, at any tempo."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

SCALES = {"aeolian": (0, 2, 3, 5, 7, 8, 10), "dorian": (0, 2, 3, 5, 7, 9, 10), "phrygian": (0, 1, 3, 5, 7, 8, 10)}
GALLOP = ((0.0, 0.5, "e"), (0.5, 0.25, "s1"), (0.75, 0.25, "s2"))
PULSES = {
    "one": ((0.0, 1.0),),
    "two": ((0.0, 0.5), (0.5, 0.5)),
    "three": ((0.0, 1 / 3), (1 / 3, 1 / 3), (2 / 3, 1 / 3)),
    "four": ((0.0, 0.25), (0.25, 0.25), (0.5, 0.25), (0.75, 0.25)),
    "gallop": ((0.0, 0.5), (0.5, 0.25), (0.75, 0.25)),
    "dotted": ((0.0, 0.75), (0.75, 0.25)),
}
SIXTEENTHS_TO = 150
"""Beats a minute over which nobody is asked for four sixteenths in a row."""
SECONDS = 10.0


@dataclass(frozen=True)
class Asked:
    """One written stroke."""

    beat: float
    beats: float
    pitches: tuple[int, ...]
    art: str
    role: str | None = None


@dataclass
class _Line:
    """A line that wanders over a scale."""

    rng: np.random.Generator
    root: int
    scale: tuple[int, ...]
    degree: int = 0

    def moved(self, most: int, highest: int) -> int:
        """The next pitch, at most so many degrees away."""
        self.degree = int(np.clip(self.degree + self.rng.integers(-most, most + 1), 0, highest))
        return self.pitch(self.degree)

    def pitch(self, degree: int) -> int:
        return self.root + 12 * (degree // 7) + self.scale[degree % 7]


def _pulse(rng: np.random.Generator, bpm: int, shares: dict[str, float]) -> tuple[tuple[float, float], ...]:
    names = [name for name in shares if name != "four" or bpm < SIXTEENTHS_TO]
    odds = np.array([shares[name] for name in names])
    return PULSES[names[int(rng.choice(len(names), p=odds / odds.sum()))]]


def _gallop(rng: np.random.Generator, bpm: int, beats: int, line: _Line) -> list[Asked]:
    out = []
    for beat in range(beats):
        figure = ((0.0, 1.0, "e"),) if rng.random() < 0.15 else GALLOP
        out += [Asked(beat + at, length, (line.root,), "pm", role) for at, length, role in figure]
    return out


def _posriff(rng: np.random.Generator, bpm: int, beats: int, line: _Line) -> list[Asked]:
    out = []
    for beat in range(beats):
        for at, length in _pulse(rng, bpm, {"four": 0.35, "two": 0.4, "gallop": 0.25}):
            if rng.random() < 0.55:
                out.append(Asked(beat + at, length, (line.root,), "pm"))
            else:
                out.append(Asked(beat + at, length, (line.moved(2, 9),), "open" if rng.random() < 0.3 else "pm"))
    return out


def _lead(rng: np.random.Generator, bpm: int, beats: int, line: _Line) -> list[Asked]:
    shares = {"four": 0.3, "three": 0.2, "two": 0.35, "one": 0.15}
    return [
        Asked(beat + at, length, (line.moved(2, 12),), "open")
        for beat in range(beats)
        for at, length in _pulse(rng, bpm, shares)
    ]


def _harmony(rng: np.random.Generator, bpm: int, beats: int, line: _Line) -> list[Asked]:
    out = []
    for beat in range(beats):
        for at, length in _pulse(rng, bpm, {"four": 0.12, "two": 0.63, "one": 0.15, "dotted": 0.1}):
            low = line.moved(2, 9)
            out.append(Asked(beat + at, length, (low, line.pitch(line.degree + 2)), "open"))
    return out


def _legato(rng: np.random.Generator, bpm: int, beats: int, line: _Line) -> list[Asked]:
    out: list[Asked] = []
    beat, last = 0.0, -1
    while beat < beats - 0.01:
        length = min(float(rng.choice([0.5, 0.5, 1.0, 1.0, 1.5])), beats - beat)
        pitch = line.moved(2, 10)
        hammered = out and rng.random() < 0.4 and 0 < abs(pitch - last) <= 4
        out.append(Asked(beat, length, (pitch,), "hammer" if hammered else "open"))
        beat, last = beat + length, pitch
    return out


def _power(rng: np.random.Generator, bpm: int, beats: int, line: _Line) -> list[Asked]:
    out = []
    beat = 0.0
    low = line.pitch(0)
    while beat < beats - 0.01:
        length = min(float(rng.choice([0.5, 0.5, 0.5, 1.0, 1.5])), beats - beat)
        if rng.random() < 0.4:
            low = line.moved(2, 6)
        out.append(Asked(beat, length, (low, low + 7, low + 12), "open"))
        beat += length
    return out


Family = Callable[[np.random.Generator, int, int, _Line], list[Asked]]
FAMILIES: dict[str, tuple[Family, tuple[int, int], int]] = {
    "gallop": (_gallop, (40, 46), 0),
    "posriff": (_posriff, (40, 44), 0),
    "lead": (_lead, (52, 60), 4),
    "harmony": (_harmony, (52, 58), 3),
    "legato": (_legato, (55, 62), 4),
    "power": (_power, (40, 46), 0),
}
"""How each is made, from which lowest note, beginning at which degree."""


def riff(family: str, rng: np.random.Generator, bpm: int, *, rest: bool = False) -> list[Asked]:
    """About ten seconds of a family; with `rest`, a bar in the middle is silent."""
    make, (lowest, highest), degree = FAMILIES[family]
    scale = SCALES[str(rng.choice(list(SCALES)))]
    bars = int(np.clip(round(SECONDS * bpm / 240), 4, 8))
    line = _Line(rng, int(rng.integers(lowest, highest)), scale, degree)
    out = make(rng, bpm, 4 * bars, line)
    return [item for item in out if not (rest and bars // 2 <= item.beat // 4 < bars // 2 + 1)]
