"""The picking hand: down and up strokes from the grid, by economy or all down, and what crossing strings asks of them.

House rules (no published rule was found for stroke direction):

- Alternate: the hand swings with the grid, the finest even division that the part uses anywhere: eighths, sixteenths
  or thirty-seconds. A stroke on an even slot is down, on an odd one up, so that eighths among sixteenths are all down
  and a gallop (eighth and two sixteenths) is down, down-up. Beats in triplets have a grid of their own and swing on
  from triplet beat to triplet beat: down-up-down, up-down-up. Of the 1,813 strokes written in the bundled exercises
  97 % agree.
- Down-up-down: as alternate, but a gallop's three strokes alternate: down-up-down.
- Economy: a stroke goes on in the direction in which it crosses to a neighbouring string (toward the thin strings down,
  toward the thick ones up); on the same string, and where strings are skipped, it alternates with the stroke before.
  After a beat or more without a stroke the grid decides.
- All down: every stroke is down; `demand` tells up to which tempo.
- Hammer-ons, pull-offs, slides and taps take no stroke; a stroke that is written is kept.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from itertools import pairwise
from math import lcm

from trainer.music.meter import Meter
from trainer.music.note import Attack, Moment
from trainer.music.part import TabPart
from trainer.music.riff import Riff

DOWN = "d"
UP = "u"


class Picking(Enum):
    """How strokes are chosen."""

    ALTERNATE = "alternate"
    DOWN_UP_DOWN = "down-up-down"
    ECONOMY = "economy"
    ALL_DOWN = "all down"


@dataclass(frozen=True, slots=True)
class PickStroke:
    """One stroke of the picking hand."""

    bar: int
    """From 0."""
    offset: Fraction
    """Whole notes from the bar's start."""
    at: Fraction
    """Whole notes from the riff's start."""
    direction: str
    """"d" or "u"."""
    strings: tuple[int, int]
    """The thinnest and the thickest string it strikes."""
    written: bool
    """The file says its direction."""


class CrossingKind(Enum):
    """How the pick gets from one string to another."""

    INSIDE = "inside"
    """It stays between the two strings: toward the thin strings an up stroke, then a down stroke."""
    OUTSIDE = "outside"
    """It goes around both: toward the thin strings a down stroke, then an up stroke."""
    SWEEP = "sweep"
    """One movement carries it over both."""
    JUMP = "jump"
    """It strikes twice in one direction and must come back over both between."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """A change of string between two strokes."""

    at: Fraction
    """Where the second stroke falls, in whole notes from the riff's start."""
    strings: int
    """How many strings are crossed: 1 for neighbours."""
    passage: CrossingKind


NO_STROKE = frozenset({Attack.HAMMER, Attack.PULL, Attack.SLIDE_UP, Attack.SLIDE_DOWN, Attack.TAP})
"""Attacks that sound without the pick."""


def strokes(part: TabPart, riff: Riff, picking: Picking = Picking.ALTERNATE) -> tuple[PickStroke, ...]:
    """Every stroke of a part, in order."""
    found: list[PickStroke] = []
    grid = stroke_grid(part, riff)
    for number, (bar, start, meter) in enumerate(zip(part.bars, riff.bar_starts, riff.meters, strict=False)):
        swing = swings(bar, meter, grid, three=picking is Picking.DOWN_UP_DOWN)
        for moment in bar:
            strings = [note.string for note in moment.notes if note.attack not in NO_STROKE]
            if not strings:
                continue
            reach = (min(strings), max(strings))
            at = start + moment.offset
            direction = moment.pick or swing[moment.offset]
            if not moment.pick and picking is Picking.ALL_DOWN:
                direction = DOWN
            if not moment.pick and picking is Picking.ECONOMY and found and at - found[-1].at < meter.pulse:
                direction = _economy(found[-1], reach)
            found.append(PickStroke(number, moment.offset, at, direction, reach, bool(moment.pick)))
    return tuple(found)


def _economy(before: PickStroke, reach: tuple[int, int]) -> str:
    """The direction that carries the stroke on to a neighbouring string, else the other one than before."""
    step = reach[0] - before.strings[0]
    if abs(step) == 1:
        return DOWN if step < 0 else UP
    return UP if before.direction == DOWN else DOWN


def stroke_grid(part: TabPart, riff: Riff) -> int:
    """Into how many slots the finest of a part's beats divides, those in triplets (of a simple meter) aside."""
    finest = 1
    for bar, meter in zip(part.bars, riff.meters, strict=False):
        for _, _, division in _beats(bar, meter):
            if meter.compound or division in EVEN:
                finest = max(finest, division)
    return finest


EVEN = frozenset({2, 4, 8})
"""Divisions of a simple beat that share one grid."""
GRID_WORDS = {1: "beats", 2: "eighths", 3: "eighths", 4: "sixteenths", 6: "sixteenths", 8: "thirty-seconds"}
"""What a grid is called, by the slots of a quarter or of three eighths."""


def rule_words(part: TabPart, riff: Riff, picking: Picking) -> str:
    """By which rule strokes that are not written are chosen, in a sentence."""
    grid = GRID_WORDS.get(stroke_grid(part, riff), "its finest notes")
    alternate = f"alternate on a grid of {grid}, down on the even slots and up between"
    return {
        Picking.ALTERNATE: f"Strokes: {alternate}.",
        Picking.DOWN_UP_DOWN: f"Strokes: {alternate}; gallops down-up-down.",
        Picking.ECONOMY: "Strokes: economy, on in the same direction to a neighbouring string, else alternate.",
        Picking.ALL_DOWN: "Strokes: all down.",
    }[picking]


def swings(bar: Sequence[Moment], meter: Meter, grid: int = 1, *, three: bool = False) -> dict[Fraction, str]:
    """For each onset of a bar the direction in which the hand swings there.

    Args:
        bar: the bar.
        meter: its meter.
        grid: the part's grid (`stroke_grid`), which beats with fewer slots take over.
        three: gallops go down-up-down.
    """
    found = {}
    swung = 0  # slots of the triplet beats just before
    last = -2
    for beat, places, own in _beats(bar, meter):
        odd = own % 2 == 1
        division = max(own, grid) if meter.compound or own in EVEN else own
        begin = swung if odd and beat == last + 1 and division == own else 0
        gallop = three and tuple(places) == GALLOP
        for number, place in enumerate(places):
            slot = number if gallop else int(place * division)
            found[(beat + place) * meter.pulse] = DOWN if (begin + slot) % 2 == 0 else UP
        swung, last = (begin + division, beat) if odd and division == own else (0, -2)
    return found


GALLOP = (Fraction(0), Fraction(1, 2), Fraction(3, 4))
"""The onsets of an eighth and two sixteenths, as parts of a beat."""


def _beats(bar: Sequence[Moment], meter: Meter) -> list[tuple[int, list[Fraction], int]]:
    """Each beat with notes: its number from 0, its onsets as parts of the beat, its own division."""
    beats: dict[int, list[Fraction]] = {}
    for moment in bar:
        if moment.notes:
            beat = int(moment.offset / meter.pulse)
            beats.setdefault(beat, []).append(moment.offset / meter.pulse - beat)
    return [(beat, places, beat_division(places, meter)) for beat, places in sorted(beats.items())]


def beat_division(places: Sequence[Fraction], meter: Meter) -> int:
    """Into how many slots a beat's grid divides it.

    Args:
        places: the beat's onsets, as parts of the beat.
        meter: a compound one prefers threes.
    """
    divisions = (3, 6, 12, 24) if meter.compound else (2, 4, 3, 8, 6, 12, 16, 24)
    for division in divisions:
        if all((place * division).denominator == 1 for place in places):
            return division
    return lcm(*(place.denominator for place in places))


def crossings(found: Sequence[PickStroke]) -> tuple[Crossing, ...]:
    """Every change of string between strokes that follow each other; chords that share a string change nothing."""
    changes = []
    for one, two in pairwise(found):
        to_thin = one.strings[0] - two.strings[1]
        to_thick = two.strings[0] - one.strings[1]
        if max(to_thin, to_thick) > 0:
            carrying = DOWN if to_thin > 0 else UP
            passage = _PASSAGES[(one.direction == carrying, two.direction == carrying)]
            changes.append(Crossing(two.at, max(to_thin, to_thick), passage))
    return tuple(changes)


_PASSAGES = {
    (True, True): CrossingKind.SWEEP,
    (False, False): CrossingKind.JUMP,
    (True, False): CrossingKind.OUTSIDE,
    (False, True): CrossingKind.INSIDE,
}
"""By whether each stroke moves toward the other string's side."""


def with_strokes(part: TabPart, riff: Riff, picking: Picking = Picking.ALTERNATE) -> TabPart:
    """The part with every stroke written."""
    found = {(stroke.bar, stroke.offset): stroke.direction for stroke in strokes(part, riff, picking)}
    bars = tuple(
        tuple(replace(moment, pick=found.get((number, moment.offset), moment.pick)) for moment in bar)
        for number, bar in enumerate(part.bars)
    )
    return replace(part, bars=bars)
