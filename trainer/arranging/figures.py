"""What returns: the figures a part is made of, so that nobody learns the same bar twice.

A bar returns *exactly* when pitches, rhythm and articulation are the same, wherever on the neck they are
played; *transposed* when every pitch is moved by the same number of semitones; *in rhythm only* when just its notes and
rests start at the same places.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from trainer.music.note import Moment, Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi


class Return(Enum):
    """How a place repeats an earlier one; the value stands after the figure's letter."""

    NEW = ""
    EXACT = "="
    TRANSPOSED = "t"
    RHYTHM = "r"


@dataclass(frozen=True, slots=True)
class FigurePlace:
    """One bar."""

    bar: int
    """From 1."""
    letter: str
    """The figure's: A, B, … Z, AA, …; empty for silence."""
    how: Return
    semitones: int = 0
    """By how much it is transposed."""

    def __str__(self) -> str:
        """As a row of letters shows it: "A", "At", "Ar"; "-" for silence."""
        return f"{self.letter}{'' if self.how is Return.EXACT else self.how.value}" or "-"


@dataclass(frozen=True, slots=True)
class RepeatedFigure:
    """One figure and where it is played."""

    letter: str
    places: tuple[FigurePlace, ...]
    """The first is where it is new."""

    @property
    def uses(self) -> int:
        """How often it is played, in whatever form."""
        return len(self.places)


@dataclass(frozen=True, slots=True)
class FigureCatalogue:
    """The figures of a part."""

    part: str
    places: tuple[FigurePlace, ...]
    """Every bar in order."""
    figures: tuple[RepeatedFigure, ...]
    """In the order in which to learn them: the most used first, then as they come."""


_Shape = tuple[tuple[Fraction, bool, tuple[int, ...], tuple[object, ...]], ...]
"""For each moment its place, whether it is a rest, its pitches and how they are played."""


def figures(part: TabPart, riff: Riff) -> FigureCatalogue:
    """The figures of a part."""
    known: list[tuple[str, _Shape]] = []
    places = []
    for bar, (moments, meter) in enumerate(zip(part.bars, riff.meters, strict=False), 1):
        shape = _shape(part, [moment for moment in moments if moment.offset < meter.length])
        places.append(_place(known, shape, bar))
    found = {letter: tuple(place for place in places if place.letter == letter) for letter, _ in known}
    order = sorted(found, key=lambda letter: -len(found[letter]))
    return FigureCatalogue(part.name, tuple(places), tuple(RepeatedFigure(letter, found[letter]) for letter in order))


def _place(known: list[tuple[str, _Shape]], shape: _Shape, bar: int) -> FigurePlace:
    if not any(pitches for _, _, pitches, _ in shape):
        return FigurePlace(bar, "", Return.NEW)
    for how in (Return.EXACT, Return.TRANSPOSED, Return.RHYTHM):
        for letter, other in known:
            semitones = _same(other, shape, how)
            if semitones is not None:
                return FigurePlace(bar, letter, how, semitones)
    letter = _letter(len(known))
    known.append((letter, shape))
    return FigurePlace(bar, letter, Return.NEW)


def _shape(part: TabPart, moments: Sequence[Moment]) -> _Shape:
    found = []
    for moment in moments:
        if not (moment.notes or moment.rest):
            continue
        rows = sorted(
            (
                note_midi(part.instrument, note),
                (note.attack.value, note.touch is Touch.DEAD, note.vibrato, note.short, _rise(note.bend, note.fret)),
            )
            for note in moment.notes
        )
        played = (moment.mute, moment.ring, *(how for _, how in rows))
        found.append((moment.offset, moment.rest, tuple(midi for midi, _ in rows), played))
    return tuple(found)


def _rise(bend: int | None, fret: int) -> int:
    return 0 if bend is None else bend - fret


def _same(one: _Shape, other: _Shape, how: Return) -> int | None:
    """By how many semitones one shape repeats another in a certain way; None where it does not."""
    if len(one) != len(other) or any(a[:2] != b[:2] for a, b in zip(one, other, strict=True)):
        return None
    if how is Return.RHYTHM:
        return 0
    if any(len(a[2]) != len(b[2]) or a[3] != b[3] for a, b in zip(one, other, strict=True)):
        return None
    moves = {y - x for a, b in zip(one, other, strict=True) for x, y in zip(a[2], b[2], strict=True)}
    if len(moves) != 1 or (how is Return.EXACT) != (moves == {0}):
        return None
    return moves.pop()


def _letter(number: int) -> str:
    """The letter of the nth figure, from 0: A to Z, then AA, AB and so on."""
    first, last = divmod(number, 26)
    return (_letter(first - 1) if first else "") + chr(ord("A") + last)
