"""What simulated players play from: parts of the bundled exercises, and of exercise files written by chance."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from random import Random

from trainer.arranging.realise import realise_exercise
from trainer.commands.subject import Subject
from trainer.listening.written import WrittenPart
from trainer.music.exercise import Exercise
from trainer.music.riff import Riff
from trainer.notation.read import read
from trainer.places import bundled
from trainer.playback.piece import Loop, Piece

AEOLIAN = (0, 2, 3, 5, 7, 8, 10)
PATCHES = ("rhythm left", "rhythm right", "lead left", "lead right", "clean left", "clean right")
LONGEST_LOOP = 4
"""Bars of a loop: a take of one pass, as the stand records it."""


@dataclass(frozen=True)
class Sheet:
    """A loop of one part, at one tempo."""

    exercise: Exercise
    riff: Riff
    part: str
    bars: tuple[int, int]
    tempo: Fraction

    @property
    def subject(self) -> Subject:
        """The same as the commands ask for it."""
        loop = Loop(self.bars[0] - 1, self.bars[1] - 1)
        return Subject(
            self.exercise, Piece.of(self.exercise, [self.riff]), loop, (self.part,), (self.part,), (self.tempo,)
        )

    @property
    def written(self) -> WrittenPart:
        return self.subject.written(self.part, self.tempo)

    def at(self, tempo_bpm: Fraction) -> "Sheet":
        """The same at another tempo."""
        return Sheet(self.exercise, self.riff, self.part, self.bars, tempo_bpm)


@cache
def bundled_parts() -> tuple[tuple[Exercise, Riff, str], ...]:
    """Every guitar part of every riff of the bundled exercises."""
    found = []
    for path in sorted(bundled("exercises").glob("*.md")):
        if path.name == "README.md":
            continue
        exercise = realise_exercise(read(path.read_text("utf-8"), path.name), path.name)
        found += [(exercise, riff, tab.name) for riff in exercise.riffs for tab in riff.tabs if "guitar" in tab.name]
    return tuple(found)


def bundled_sheet(random: Random) -> Sheet:
    """A loop of a bundled exercise, somewhere between its start tempo and its target."""
    exercise, riff, part = random.choice(bundled_parts())
    tempo = Fraction(random.randint(round(riff.tempo.start), round(riff.tempo.target)))
    bars = len(riff.meters)
    first = random.randint(1, bars - LONGEST_LOOP + 1) if bars > LONGEST_LOOP else 1
    return Sheet(exercise, riff, part, (first, min(bars, first + LONGEST_LOOP - 1)), tempo)


def _places(random: Random, count: int, low: int) -> list[tuple[int, int]]:
    """A line of (string, fret) that walks through E aeolian from a lowest pitch on, near the fifth fret."""
    opens = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}
    scale = [low + 12 * octave + step for octave in range(2) for step in AEOLIAN]
    degree, places = random.randrange(3, 9), []
    for _ in range(count):
        pitch = scale[degree]
        string = max((s for s, at in opens.items() if pitch - at >= 0), key=lambda s: -abs(pitch - opens[s] - 4))
        places.append((string, pitch - opens[string]))
        degree = max(0, min(len(scale) - 1, degree + random.choice((-2, -1, -1, 1, 1, 2))))
    return places


def _system(counts: Sequence[str], places: Sequence[tuple[int, int]], muted: Sequence[bool]) -> list[str]:
    """The rows of a system in 4/4."""
    size = len(places) // 4

    def row(label: str, cells: Sequence[str]) -> str:
        bars = [" ".join(f"{cell:2}" for cell in cells[bar * size : (bar + 1) * size]) for bar in range(4)]
        return f"{label:5} | {' | '.join(bars)} |"

    rows = [row("count", list(counts) * 4)]
    rows += [
        row(str(string), [str(fret) if string == own else "" for own, fret in places])
        for string in sorted({place[0] for place in places})
    ]
    return [*rows, row("mute", ["=" if mark else "" for mark in muted])] if any(muted) else rows


def made_text(random: Random, *, galloping: bool) -> str:
    """An exercise file of one riff of four bars: a gallop over a moving bass note, or a line in eighths."""
    if galloping:
        counts = [f"{beat}{name}" for beat in range(1, 5) for name in ("", " &", " a")]
        roots = [(6, random.choice((0, 0, 3, 5, 7))) for _ in range(16)]
        places = [root for root in roots for _ in range(3)]
        muted = [random.random() < 0.9] * len(places)
    else:
        counts = [f"{beat}{name}" for beat in range(1, 5) for name in ("", " &")]
        places = _places(random, 32, random.choice((40, 52)))
        muted = [False] * len(places)
    said = [count.split()[-1] for count in counts]
    system = "\n".join(_system(said, places, muted))
    start = random.randint(80, 110)
    return (
        f'+++\ntitle = "Made {random.randint(1, 999)}"\nkey = "E aeolian"\n'
        f"tempo = {{ start = {start}, target = {start + 50} }}\n\n"
        f'[parts."guitar 1"]\npatch = "{random.choice(PATCHES)}"\n+++\n\n## Riff\n\n```tab guitar 1\n{system}\n```\n'
    )


def made_sheet(random: Random, *, galloping: bool) -> Sheet:
    """A loop of an exercise file that was written by chance."""
    exercise = read(made_text(random, galloping=galloping), "made.md")
    riff = exercise.riffs[0]
    tempo = Fraction(random.randint(round(riff.tempo.start), round(riff.tempo.target)))
    return Sheet(exercise, riff, "guitar 1", (1, 4), tempo)
