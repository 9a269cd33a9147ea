"""Clashes: notes a semitone apart, in any octave, that sound together.

House rule: through two distorted amplifiers a semitone, a major seventh and a minor ninth grate (Herbst 2018:
distortion and complexity together lower consonance); anything wider is colour.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from trainer.arranging.chord_name import chord_tones
from trainer.music.note import Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote, sounding


def clashes(semitone: int, others: frozenset[int]) -> bool:
    """Whether a pitch class lies a semitone from one of others and is none of them."""
    return semitone not in others and bool({(semitone - 1) % 12, (semitone + 1) % 12} & others)


@dataclass(frozen=True, slots=True)
class PartNotes:
    """The notes of a part, to be asked what sounds at a place."""

    notes: tuple[SoundingNote, ...]
    starts: tuple[Fraction, ...]
    longest: tuple[Fraction, ...]
    """For each note the latest end among it and those before: how far back a search must go."""

    @classmethod
    def of(cls, part: TabPart, riff: Riff) -> "PartNotes":
        """The notes of a part with a pitch."""
        notes = tuple(note for note in sounding(part, riff.bar_starts) if note.note.touch is not Touch.DEAD)
        return cls(notes, tuple(note.at for note in notes), tuple(accumulate((note.end for note in notes), max)))

    def at(self, place: Fraction) -> tuple[SoundingNote, ...]:
        """The notes that sound at a place, those that start there included."""
        index = bisect_right(self.starts, place) - 1
        found: list[SoundingNote] = []
        while index >= 0 and self.longest[index] > place:
            if self.notes[index].end > place:
                found.append(self.notes[index])
            index -= 1
        return tuple(reversed(found))

    def within(self, begin: Fraction, end: Fraction) -> tuple[Fraction, ...]:
        """Where notes start from one place up to, not including, another."""
        return self.starts[bisect_left(self.starts, begin) : bisect_left(self.starts, end)]


@dataclass(frozen=True, slots=True)
class ChordNames:
    """The chord names written over a riff, to be asked which stands at a place."""

    places: tuple[Fraction, ...]
    tones: tuple[frozenset[int], ...]
    """Pitch classes of each chord; empty where the name is not understood."""

    @classmethod
    def of(cls, riff: Riff) -> "ChordNames":
        """All chord names of the written parts."""
        found: dict[Fraction, frozenset[int]] = {}
        for part in riff.tabs:
            for bar, start in zip(part.bars, riff.bar_starts, strict=False):
                for moment in bar:
                    if moment.chord:
                        found.setdefault(start + moment.offset, chord_tones(moment.chord) or frozenset())
        ordered = sorted(found)
        return cls(tuple(ordered), tuple(found[place] for place in ordered))

    def at(self, place: Fraction) -> frozenset[int]:
        """The pitch classes of the chord in force."""
        index = bisect_right(self.places, place) - 1
        return self.tones[index] if index >= 0 else frozenset()


def heard(parts: Sequence[PartNotes], chords: ChordNames | None, place: Fraction) -> frozenset[int]:
    """The pitch classes that some parts and the chord names give at a place."""
    found = frozenset(note.midi % 12 for part in parts for note in part.at(place))
    return found | chords.at(place) if chords else found
