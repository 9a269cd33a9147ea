"""From what is written to what sounds: when each note of a part starts, how long it lasts, and at what pitch.

The rules of the exercise file: a note sounds until the next note or rest of its part; under "let ring", until its
string is struck again or the marks end. Nothing sounds past the end of the riff.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.instrument import Instrument
from trainer.music.note import Moment, Note, Touch
from trainer.music.part import TabPart


@dataclass(slots=True)
class _Open:
    """A note that has begun and not ended."""

    at: Fraction
    note: Note
    moment: Moment
    bar: int


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """One note as it sounds. Places and lengths are in whole notes."""

    at: Fraction
    """From the riff's start."""
    length: Fraction
    midi: int
    """The MIDI key at its start: before a bend; for a dead note the open string's."""
    note: Note
    moment: Moment
    """What it starts with, and the marks that apply."""
    bar: int
    """Counted from 0."""

    @property
    def end(self) -> Fraction:
        """Where it stops sounding."""
        return self.at + self.length


def note_midi(instrument: Instrument, note: Note) -> int:
    """The MIDI key a note sounds when it starts."""
    if note.touch is Touch.HARMONIC:
        return instrument.harmonic_midi(note.string, note.fret)
    return instrument.midi(note.string, note.fret)


def sounding(part: TabPart, starts: Sequence[Fraction]) -> tuple[SoundingNote, ...]:
    """Every note of a part in order of start, then from the thickest string to the thinnest.

    Args:
        part: the part.
        starts: where each bar begins, and last where the riff ends (`Riff.bar_starts`).
    """
    done: list[SoundingNote] = []
    open_notes: dict[int, _Open] = {}

    def end(strings: Sequence[int], at: Fraction) -> None:
        for string in strings:
            begun = open_notes.pop(string)
            midi = note_midi(part.instrument, begun.note)
            done.append(SoundingNote(begun.at, at - begun.at, midi, begun.note, begun.moment, begun.bar))

    for number, (bar, start) in enumerate(zip(part.bars, starts, strict=False)):
        for moment in bar:
            if not (moment.notes or moment.rest):
                continue
            at = start + moment.offset
            struck = {note.string for note in moment.notes}
            ringing = moment.ring and not moment.rest
            end([s for s, begun in open_notes.items() if s in struck or not (ringing and begun.moment.ring)], at)
            for note in moment.notes:
                open_notes[note.string] = _Open(at, note, moment, number)
    end(list(open_notes), starts[-1])
    return tuple(sorted(done, key=lambda note: (note.at, -note.note.string)))
