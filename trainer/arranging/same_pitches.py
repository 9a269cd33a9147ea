"""Two parts that play the same pitches: how they differ in position and articulation."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from trainer.arranging.compass import techniques
from trainer.music.note import Moment, Note, Touch
from trainer.music.part import TabPart
from trainer.music.sounding import note_midi

ALIKE = 0.8
"""Two parts play the same when so many of their shared onsets sound the same pitches. House rule."""
ENOUGH = 4
"""Fewer shared onsets say nothing. House rule."""


@dataclass(frozen=True, slots=True)
class SamePitches:
    """How two parts with the same pitches differ."""

    share: float
    """Shared onsets that sound the same pitches."""
    onsets: int
    """How many those are."""
    elsewhere: int
    """Of those, how many are played on other strings."""
    strings: float
    """By how many strings the second part plays lower on the neck's face (toward the thick strings), on average."""
    frets: float
    """By how many frets it plays higher up the neck, on average."""
    only_one: tuple[tuple[str, int], ...]
    """Techniques that only the first part uses there, and on how many notes."""
    only_other: tuple[tuple[str, int], ...]


def same_pitches(one: TabPart, other: TabPart) -> SamePitches | None:
    """How two parts differ that play the same pitches; None where they do not."""
    first, second = _moments(one), _moments(other)
    shared = [(first[place], second[place]) for place in first if place in second]
    alike = [pair for pair in shared if _pitches(one, pair[0]) == _pitches(other, pair[1])]
    if len(shared) < ENOUGH or len(alike) < ALIKE * len(shared):
        return None
    moved = [(a, b) for a, b in alike if {n.string for n in a.notes} != {n.string for n in b.notes}]
    differences = [
        (mine.string - theirs.string, mine.fret - theirs.fret)
        for a, b in alike
        for theirs, mine in zip(_ordered(one, a), _ordered(other, b), strict=False)
    ]
    mine, theirs = techniques(a for a, _ in alike), techniques(b for _, b in alike)
    return SamePitches(
        len(alike) / len(shared),
        len(alike),
        len(moved),
        sum(strings for strings, _ in differences) / (len(differences) or 1),
        sum(frets for _, frets in differences) / (len(differences) or 1),
        _lacking(mine, theirs),
        _lacking(theirs, mine),
    )


def _moments(part: TabPart) -> dict[tuple[int, Fraction], Moment]:
    return {(number, moment.offset): moment for number, bar in enumerate(part.bars) for moment in bar if moment.notes}


def _pitches(part: TabPart, moment: Moment) -> tuple[int, ...]:
    return tuple(sorted(note_midi(part.instrument, n) for n in moment.notes if n.touch is not Touch.DEAD))


def _ordered(part: TabPart, moment: Moment) -> list[Note]:
    return sorted(moment.notes, key=lambda note: note_midi(part.instrument, note))


def _lacking(has: Iterable[tuple[str, int]], lacks: Iterable[tuple[str, int]]) -> tuple[tuple[str, int], ...]:
    there = {name for name, _ in lacks}
    return tuple((name, count) for name, count in has if name not in there)
