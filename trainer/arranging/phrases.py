"""Phrases: where a line breathes.

House rule: a phrase ends at a rest that lasts a beat or longer, and after a note that sounds for two beats or longer.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.note import Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote, sounding

LONG_NOTE_BEATS = 2
LONG_REST_BEATS = 1


@dataclass(frozen=True, slots=True)
class Phrase:
    """Some notes of a part in a row."""

    notes: tuple[SoundingNote, ...]
    """With a pitch, in order."""

    @property
    def first_bar(self) -> int:
        """From 1."""
        return self.notes[0].bar + 1

    @property
    def last_bar(self) -> int:
        """From 1."""
        return self.notes[-1].bar + 1

    @property
    def begin(self) -> Fraction:
        """Whole notes from the riff's start."""
        return self.notes[0].at


def pitched(part: TabPart, riff: Riff) -> tuple[SoundingNote, ...]:
    """The notes of a part that have a pitch."""
    return tuple(note for note in sounding(part, riff.bar_starts) if note.note.touch is not Touch.DEAD)


def phrases(part: TabPart, riff: Riff) -> tuple[Phrase, ...]:
    """The phrases of a part."""
    found: list[list[SoundingNote]] = []
    end: Fraction | None = None
    long = Fraction(0)
    for note in pitched(part, riff):
        beat = riff.meters[note.bar].pulse
        rested = end is not None and note.at - end >= LONG_REST_BEATS * beat
        if end is None or rested or (long >= LONG_NOTE_BEATS * beat and note.at >= end):
            found.append([])
        found[-1].append(note)
        end = max(end or note.end, note.end)
        long = note.length
    return tuple(Phrase(tuple(notes)) for notes in found)


def beats_long(note: SoundingNote, riff: Riff) -> float:
    """A note's length in beats of its bar."""
    return float(note.length / riff.meters[note.bar].pulse)


def low_notes(parts: Sequence[TabPart]) -> TabPart | None:
    """The part that gives the bass: the one on the lowest neck."""
    return min(parts, key=lambda part: min(p.midi for p in part.instrument.tuning), default=None)
