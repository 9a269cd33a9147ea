"""What it costs to go from one grip to the next, as tables of numbers for the fingering's search.

numpy is imported where it is used: the other computing of this room does without.
"""

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.arranging.grip import THUMB, Grip, Limits, WantedNote, grips
from trainer.arranging.hand import Hand, fret_mm
from trainer.music.instrument import Instrument

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Whole = NDArray[np.int64]


class Tie(Enum):
    """How a note hangs on a note of the event before."""

    NONE = ""
    HELD = "held"
    """It is that note, still sounding: string, fret and finger stay."""
    HAMMER = "hammer"
    """A hammer-on or pull-off: the string and the hand stay, another finger takes over (or lets go)."""
    SLIDE = "slide"
    """String and finger stay, the hand moves; it cannot begin or end on an open string."""
    STRING = "string"
    """Only the string stays: the other hand taps."""


@dataclass(frozen=True, slots=True, eq=False)
class GripTable:
    """The grips of an event as arrays; n grips, m notes, s strings."""

    grips: tuple[Grip, ...]
    costs: "Numbers"
    """(n,)"""
    position: "Whole"
    """(n,)"""
    position_mm: "Numbers"
    """(n,)"""
    notes: "Whole"
    """(n, m, 3): string, fret, finger."""
    places_mm: "Numbers"
    """(n, m): where each note's fret lies."""
    reach: "Whole"
    """(n, 2): the thinnest and the thickest string struck; 0 where only held notes sound."""
    fingers: "Whole"
    """(n, 4, 3): for each finger its thinnest and thickest string and its fret; fret 0 where it is idle."""
    strings: "Whole"
    """(n, s, 2): for each string its fret and finger; finger 0 where no finger holds it."""
    rests: bool
    """Only open strings, whatever the hand does: it rests, and remembers the shape it held."""


@lru_cache(maxsize=2048)
def grip_table(
    wanted: tuple[WantedNote, ...], ties: tuple[Tie, ...], neck: Instrument, hand: Hand, limits: Limits
) -> GripTable:
    """The grips of an event as arrays.

    Args:
        wanted: the event's notes.
        ties: each note's tie; held ones are not struck.
        neck: the neck.
        hand: the hand.
        limits: where on the neck they may lie.
    """
    import numpy as np

    found = grips(wanted, neck, hand, limits)
    fingers = np.zeros((len(found), 4, 3), dtype=np.int64)
    strings = np.zeros((len(found), neck.strings, 2), dtype=np.int64)
    reach = np.zeros((len(found), 2), dtype=np.int64)
    struck = [index for index, tie in enumerate(ties) if tie is not Tie.HELD]
    for row, grip in enumerate(found):
        if struck:
            reach[row] = (min(grip.notes[i][0] for i in struck), max(grip.notes[i][0] for i in struck))
        for string, fret, finger in grip.notes:
            if finger == 0:
                continue
            strings[row, string - 1] = (fret, finger)
            if finger != THUMB:
                low, high, _ = fingers[row, finger - 1]
                fingers[row, finger - 1] = (min(low or string, string), max(high, string), fret)
    position = np.array([grip.position for grip in found], dtype=np.int64)
    notes = np.array([grip.notes for grip in found], dtype=np.int64).reshape(len(found), len(wanted), 3)
    rests = bool(len(found)) and not notes[..., 2].any() and bool((notes == notes[:1]).all())
    return GripTable(
        found,
        np.array([grip.cost for grip in found], dtype=float),
        position,
        np.array([fret_mm(neck, grip.position) for grip in found], dtype=float),
        notes,
        np.array([[fret_mm(neck, fret) for _, fret, _ in grip.notes] for grip in found]).reshape(notes.shape[:2]),
        reach,
        fingers,
        strings,
        rests,
    )


Step = tuple[GripTable, tuple[tuple[Tie, int], ...]]
"""An event's grips and its notes' ties to the event before it."""


@lru_cache(maxsize=2048)
def moves(before: GripTable, steps: tuple[Step, ...], seconds: float, hand: Hand) -> "Numbers":
    """The cost of going from each grip of one event to each of a later one, those in between included: (n, k).

    Args:
        before: the grips to go from.
        steps: the events at which the hand rests, if any, and the one to go to.
        seconds: the time from the one to the other.
        hand: the hand.
    """
    *rests, last = steps
    if rests:
        still, moving = _over_open_strings(before, tuple(rests), last, hand)
    else:
        still, moving = _parts(before, *last, hand)
    hurry = 1.0 + hand.hurry_s / max(seconds, 1e-3)
    total: Numbers = still + hurry * moving
    return total


def _over_open_strings(before: GripTable, rests: tuple[Step, ...], last: Step, hand: Hand) -> "tuple[Numbers, Numbers]":
    """As `_parts`, with open strings between: the hand shifts while they sound, and no finger must hurry."""
    still = _kept(before, last[0], hand) + to_rest(before, rests, hand)[:, None]
    still = still + from_rest(rests[-1][0], last, hand)
    return still, hand.over_open_share * _shift(before, last[0], hand)


def to_rest(before: GripTable, rests: tuple[Step, ...], hand: Hand) -> "Numbers":
    """The cost of going from each grip to some events at which the hand rests, their own costs included: (n,)."""
    total: Numbers = _parts(before, *rests[0], hand)[0][:, 0]
    for (one, _), step in pairwise(rests):
        total = total + _parts(one, *step, hand)[0][0, 0]
    return total


def from_rest(rest: GripTable, step: Step, hand: Hand) -> "Numbers":
    """The cost of going from an open string to each grip of the next event, wherever the hand was: (k,)."""
    total: Numbers = _parts(rest, *step, hand)[0][0]
    return total


def _shift(before: GripTable, after: GripTable, hand: Hand) -> "Numbers":
    """What a shift costs where there is all the time in the world: (n, k)."""
    import numpy as np

    moved = before.position[:, None] != after.position[None, :]
    distance = np.abs(before.position_mm[:, None] - after.position_mm[None, :])
    cost: Numbers = hand.shift_each * moved + hand.shift_per_mm * distance
    return cost


def _kept(before: GripTable, after: GripTable, hand: Hand) -> "Numbers":
    """What it costs to take other fingers for a note or a shape that was held before: (n, k)."""
    same = (before.strings[:, None, :, 0] == after.strings[None, :, :, 0]) & (after.strings[None, :, :, 0] > 0)
    cost: Numbers = hand.change_finger * (same & (before.strings[:, None, :, 1] != after.strings[None, :, :, 1])).sum(2)
    if after.notes.shape[1] > 1 and before.notes.shape[1] == after.notes.shape[1]:
        cost = cost + hand.change_shape * _reshaped(before.notes[:, None], after.notes[None, :])
    return cost


@lru_cache(maxsize=2048)
def _parts(
    before: GripTable, after: GripTable, ties: tuple[tuple[Tie, int], ...], hand: Hand
) -> "tuple[Numbers, Numbers]":
    """What a move costs at any speed, and what its shift costs where there is all the time in the world."""
    import numpy as np

    sliding = any(tie is Tie.SLIDE for tie, _ in ties)
    moved = before.position[:, None] != after.position[None, :]
    still = np.broadcast_to(after.costs[None, :], moved.shape).copy()
    both = (before.reach[:, None, 0] > 0) & (after.reach[None, :, 0] > 0)
    gap = _gap(before.reach[:, None, :], after.reach[None, :, :])
    still += both * (hand.crossing * gap + hand.skipped * np.maximum(gap - 1, 0))
    if not sliding:
        still += _repeats(before, after, hand)
    still += _kept(before, after, hand)
    for index, (tie, source) in enumerate(ties):
        if tie is not Tie.NONE:
            old, new = before.notes[:, None, source, :], after.notes[None, :, index, :]
            still += hand.broken * _breaks(tie, old, new, moved)
        if tie is Tie.SLIDE:
            still += np.array((0.0, *hand.slide, 0.0))[after.notes[None, :, index, 2]]
        if tie is Tie.HAMMER:
            still += hand.spread_per_mm * _spread(
                before.places_mm[:, source], after.places_mm[:, index], old, new, hand
            )
    return still, _shift(before, after, hand) * (hand.slide_share if sliding else 1.0)


def _spread(old_mm: "Numbers", new_mm: "Numbers", old: "Whole", new: "Whole", hand: Hand) -> "Numbers":
    """By how many millimetres the two fingers of a slur stand farther apart than with ease: (n, k)."""
    import numpy as np

    easy = np.full((6, 6), np.inf)
    for index, spans in enumerate(hand.spans_mm, 1):
        for other, span in enumerate(spans, index + 1):
            easy[index, other] = easy[other, index] = span
    apart = np.abs(old_mm[:, None] - new_mm[None, :])
    spread: Numbers = np.maximum(apart - easy[old[..., 2], new[..., 2]], 0.0)
    return spread


def _gap(one: "Whole", other: "Whole") -> "Whole":
    """Strings between two ranges of strings, 0 where they touch the same string: (n, k)."""
    import numpy as np

    gap: Whole = np.maximum(np.maximum(other[..., 0] - one[..., 1], one[..., 0] - other[..., 1]), 0)
    return gap


def _repeats(before: GripTable, after: GripTable, hand: Hand) -> "Numbers":
    """What it costs that a finger must leave one place for another: (n, k)."""
    old, new = before.fingers[:, None], after.fingers[None]
    used = (old[..., 2] > 0) & (new[..., 2] > 0)
    other_fret = old[..., 2] != new[..., 2]
    other_string = _gap(old, new) > 0
    cost: Numbers = (
        hand.hop * (used & other_fret & other_string).sum(2)
        + hand.along * (used & other_fret & ~other_string).sum(2)
        + hand.roll * (used & ~other_fret & other_string).sum(2)
    )
    return cost


def _reshaped(old: "Whole", new: "Whole") -> "NDArray[np.bool_]":
    """Where one shape of two or more fingers moves along the neck or across and changes its fingers: (n, k)."""
    frets, strings, fingers = 1, 0, 2
    fretted = ((old[..., fingers] > 0) & (new[..., fingers] > 0)).all(-1)
    same = ((new[..., frets] - new[..., :1, frets]) == (old[..., frets] - old[..., :1, frets])).all(-1)
    same &= ((new[..., strings] - new[..., :1, strings]) == (old[..., strings] - old[..., :1, strings])).all(-1)
    several = (old[..., fingers] != old[..., :1, fingers]).any(-1)
    found: NDArray[np.bool_] = fretted & same & several & (old[..., fingers] != new[..., fingers]).any(-1)
    return found


def _breaks(tie: Tie, old: "Whole", new: "Whole", moved: "NDArray[np.bool_]") -> "NDArray[np.bool_]":
    """Where a tie cannot be kept: (n, k)."""
    same_string = old[..., 0] == new[..., 0]
    same_finger = old[..., 2] == new[..., 2]
    broken: NDArray[np.bool_]
    if tie is Tie.HELD:
        broken = ~(same_string & same_finger & (old[..., 1] == new[..., 1]))
    elif tie is Tie.STRING:
        broken = ~same_string
    elif tie is Tie.SLIDE:
        broken = ~(same_string & same_finger & (new[..., 2] > 0))
    else:
        fingered = (old[..., 2] > 0) & (new[..., 2] > 0)
        broken = ~same_string | (fingered & (same_finger | moved))
    return broken
