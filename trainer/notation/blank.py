"""A new exercise: parts with their counts laid out in a rhythmic figure, ready to be filled in."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.exercise import Exercise
from trainer.music.instrument import BASS, STANDARD
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.tempo import Tempo
from trainer.notation.count import write_counts
from trainer.notation.layout import GridBar, draw_system
from trainer.notation.write import front_text

FIGURES: dict[str, tuple[Fraction, ...]] = {
    "beats": (Fraction(0),),
    "eighths": (Fraction(0), Fraction(1, 2)),
    "gallop": (Fraction(0), Fraction(1, 2), Fraction(3, 4)),
    "reverse gallop": (Fraction(0), Fraction(1, 4), Fraction(1, 2)),
    "sixteenths": tuple(Fraction(i, 4) for i in range(4)),
    "triplets": (Fraction(0), Fraction(1, 3), Fraction(2, 3)),
    "triplet gallop": (Fraction(0), Fraction(2, 3), Fraction(5, 6)),
}
"""Where notes start in a beat, as parts of it."""
MOST_BARS = 64
"""Bars that are laid out at most."""
WIDTH = 80
"""Characters of a system, where one bar is not wider already."""


@dataclass(frozen=True, slots=True)
class Blank:
    """What a new exercise is to be."""

    title: str
    id: str
    key: Key
    meter: Meter
    tempo: Tempo
    parts: tuple[str, ...] = ("guitar 1",)
    bars: int = 4
    figure: str = "beats"
    tuning: tuple[str, ...] = STANDARD


def blank_exercise(blank: Blank) -> str:
    """The text of a new exercise: it checks, it is tidy, and its parts already sound on their lowest string.

    Raises:
        ValueError: for a figure that the meter's counts cannot say.
    """
    exercise = Exercise(blank.id, blank.title, blank.key, blank.tempo, (), blank.meter, blank.tuning)
    pieces = [
        f"+++\n{front_text(exercise)}+++\n",
        f"# {blank.title}\n",
        "What the player should know.\n",
        "## First riff\n",
    ]
    pieces += [f"```tab {part}\n" + "\n".join(_part(part, blank)) + "\n```\n" for part in blank.parts]
    return "\n".join(pieces)


def places_of(figure: str, meter: Meter) -> tuple[Fraction, ...]:
    """Where the notes of a figure start in a bar, in whole notes. Its beat is the meter's pulse."""
    pulses = range(int(meter.length / meter.pulse) + 1)
    found = ((number + part) * meter.pulse for number in pulses for part in FIGURES[figure])
    return tuple(place for place in found if place < meter.length)


def _part(part: str, blank: Blank) -> list[str]:
    places = places_of(blank.figure, blank.meter)
    marks = write_counts(frozenset(places), blank.meter)
    column = {offset: number for number, (_, offset) in enumerate(marks)}
    if part.startswith("drum"):
        rows = ["hat", "snare", "kick"]
        beats = [number for number, (_, offset) in enumerate(marks) if (offset / blank.meter.pulse).denominator == 1]
        cells = {
            "hat": dict.fromkeys(beats, "x"),
            "snare": dict.fromkeys(beats[1::2], "x"),
            "kick": {column[place]: "x" for place in places},
        }
    else:
        strings = len(BASS if part.startswith("bass") else blank.tuning)
        rows = [str(number) for number in range(1, strings + 1)]
        cells = {str(strings): {column[place]: "0" for place in places}}
    bar = GridBar(tuple(mark for mark, _ in marks), cells)
    return _systems([bar] * blank.bars, rows)


def _systems(bars: Sequence[GridBar], rows: Sequence[str]) -> list[str]:
    lines: list[str] = []
    fits = 1
    while fits < len(bars) and len(draw_system(bars[: fits + 1], rows)[0]) <= WIDTH:
        fits += 1
    for first in range(0, len(bars), fits):
        lines += [""] if lines else []
        lines += draw_system(bars[first : first + fits], rows)
    return lines
