"""Where a melody leans: its long and accented notes as degrees over the bass, and where each resolves.

A note is a *tension* when it is no 1, b3, 3 or 5 over what the bass plays (over the tonic where no bass sounds). It
resolves when the next other note lies a second away and is one of those.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.arranging.hand import is_bass
from trainer.arranging.phrases import beats_long, pitched
from trainer.arranging.scale import spell
from trainer.music.key import Key
from trainer.music.part import TabPart
from trainer.music.pitch import Name, Pitch
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote

LONG_BEATS = 1
"""A note of so many beats counts as long. House rule."""
MAJOR_DEGREES = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the major scale's degrees, which degrees are told from."""
STABLE = frozenset({"1", "b3", "3", "5"})
"""Degrees at rest."""
DARK = {1: "b2", 6: "b5", 8: "b6"}
"""The degrees that make a scale sound dark, by semitones above the tonic."""


@dataclass(frozen=True, slots=True)
class LeaningNote:
    """A long or accented note of a melody over the bass."""

    bar: int
    """From 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    pitch: Pitch
    bass: Name
    """What the bass plays under it; the tonic where no bass sounds."""
    degree: str
    """Over the bass: "1", "b6", "4"."""
    resolves: str
    """The degree it resolves to by a second; empty where it does not, or is no tension."""

    @property
    def tension(self) -> bool:
        """Whether it wants to move on."""
        return self.degree not in STABLE


def degree_over(note: Name, bass: Name) -> str:
    """A note as a degree over another: "b3" for G over E."""
    steps = (note.step - bass.step) % 7
    alter = (note.semitone - bass.semitone - MAJOR_DEGREES[steps] + 6) % 12 - 6
    return ("#" * alter if alter > 0 else "b" * -alter) + str(steps + 1)


def leaning_notes(part: TabPart, riff: Riff) -> tuple[LeaningNote, ...]:
    """The long and accented notes of a melody, in order."""
    notes = _top_line(pitched(part, riff))
    low = [note for other in riff.tabs if is_bass(other.instrument) for note in pitched(other, riff)]
    found = []
    for number, note in enumerate(notes):
        if beats_long(note, riff) < LONG_BEATS and not note.moment.accent:
            continue
        pitch = spell(riff.key, _reached(note))
        bass = _bass_under(low, note.at, riff.key)
        degree = degree_over(pitch.name, bass)
        after = next((other for other in notes[number + 1 :] if other.midi != _reached(note)), None)
        resolves = ""
        if degree not in STABLE and after is not None and abs(after.midi - _reached(note)) <= 2:
            goal = degree_over(spell(riff.key, after.midi).name, _bass_under(low, after.at, riff.key))
            resolves = goal if goal in STABLE else ""
        found.append(LeaningNote(note.bar + 1, note.at - riff.bar_starts[note.bar], pitch, bass, degree, resolves))
    return tuple(found)


def dark_degrees(notes: Sequence[SoundingNote], key: Key) -> tuple[tuple[Name, str], ...]:
    """The notes that make some music sound dark, with their degree above the tonic."""
    heard = {note.midi % 12 for note in notes}
    tonic = key.tonic.semitone
    fifth = (tonic + 7) % 12 in heard
    return tuple(
        (spell(key, tonic + semitones).name, degree)
        for semitones, degree in DARK.items()
        if (tonic + semitones) % 12 in heard and not (degree == "b5" and fifth)
    )


def _top_line(notes: Sequence[SoundingNote]) -> list[SoundingNote]:
    """Of notes that start together the highest."""
    top: dict[Fraction, SoundingNote] = {}
    for note in notes:
        if note.at not in top or note.midi > top[note.at].midi:
            top[note.at] = note
    return [top[at] for at in sorted(top)]


def _reached(note: SoundingNote) -> int:
    """The pitch at which a note is heard: a bent one where the bend arrives."""
    return note.midi + (0 if note.note.bend is None else note.note.bend - note.note.fret)


def _bass_under(low: Sequence[SoundingNote], at: Fraction, key: Key) -> Name:
    sounding = [note.midi for note in low if note.at <= at < note.end]
    return spell(key, min(sounding)).name if sounding else key.tonic
