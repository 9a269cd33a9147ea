"""The picking hand: down and up strokes from the grid, by economy or all down, and what crossing strings asks of them.

House rules (no published rule was found for stroke direction):

- Alternate: the hand swings with the grid. Each beat has a grid, the coarsest even division on which its onsets fall:
  eighths, sixteenths, triplets, sextuplets. A stroke on an even slot is down, on an odd one up, so that a gallop
  (eighth and two sixteenths) is down, down-up. Every beat begins with a down stroke, except that triplets after
  triplets swing on: down-up-down, up-down-up.
- Economy: as alternate, but a stroke goes on in the direction in which it crosses to a neighbouring string: toward the
  thin strings down, toward the thick ones up.
- All down: every stroke is down; `demand` tells at which tempo that ends.
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
    ECONOMY = "economy"
    ALL_DOWN = "all down"


@dataclass(frozen=True, slots=True)
class Stroke:
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


class Passage(Enum):
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
    passage: Passage


NO_STROKE = frozenset({Attack.HAMMER, Attack.PULL, Attack.SLIDE_UP, Attack.SLIDE_DOWN, Attack.TAP})
"""Attacks that sound without the pick."""


def strokes(part: TabPart, riff: Riff, picking: Picking = Picking.ALTERNATE) -> tuple[Stroke, ...]:
    """Every stroke of a part, in order."""
    found: list[Stroke] = []
    for number, (bar, start, meter) in enumerate(zip(part.bars, riff.bar_starts, riff.meters, strict=False)):
        swing = swings(bar, meter)
        for moment in bar:
            strings = [note.string for note in moment.notes if note.attack not in NO_STROKE]
            if not strings:
                continue
            reach = (min(strings), max(strings))
            direction = moment.pick or swing[moment.offset]
            if not moment.pick and picking is Picking.ALL_DOWN:
                direction = DOWN
            if not moment.pick and picking is Picking.ECONOMY and found:
                direction = _economy(found[-1], reach, direction)
            found.append(Stroke(number, moment.offset, start + moment.offset, direction, reach, bool(moment.pick)))
    return tuple(found)


def _economy(before: Stroke, reach: tuple[int, int], alternate: str) -> str:
    """The direction that carries the stroke on to a neighbouring string, else the grid's."""
    step = reach[0] - before.strings[0]
    if abs(step) == 1:
        return DOWN if step < 0 else UP
    return alternate


def swings(bar: Sequence[Moment], meter: Meter) -> dict[Fraction, str]:
    """For each onset of a bar the direction in which the hand swings there."""
    beats: dict[int, list[Fraction]] = {}
    for moment in bar:
        if moment.notes:
            beats.setdefault(int(moment.offset / meter.pulse), []).append(moment.offset)
    found = {}
    swung = 0  # slots of the triplet beats just before
    last = -2
    for beat, onsets in sorted(beats.items()):
        start = beat * meter.pulse
        division = beat_division([(onset - start) / meter.pulse for onset in onsets], meter)
        odd = division % 2 == 1
        begin = swung if odd and beat == last + 1 else 0
        for onset in onsets:
            slot = int((onset - start) / meter.pulse * division)
            found[onset] = DOWN if (begin + slot) % 2 == 0 else UP
        swung, last = (begin + division, beat) if odd else (0, -2)
    return found


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


def crossings(found: Sequence[Stroke]) -> tuple[Crossing, ...]:
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
    (True, True): Passage.SWEEP,
    (False, False): Passage.JUMP,
    (True, False): Passage.OUTSIDE,
    (False, True): Passage.INSIDE,
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
