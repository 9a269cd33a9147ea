"""From what is written to what sounds: when each note of a part starts, how long it lasts, and at what pitch.

The rules of the exercise file: a note sounds until the next note or rest of its part; under "let ring", until its
string is struck again or the marks end. Nothing sounds past the end of the riff.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from trainer.music.instrument import Instrument
from trainer.music.note import Moment, Note, Touch
from trainer.music.part import DrumPart, TabPart

Held = tuple[int, int, Note, Moment, int]
"""One note on a grid of whole steps, quick to compute for thousands of bars: start and end, from the riff's start, the
note, what it starts with, and its bar, counted from 0."""


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


def grid(part: TabPart | DrumPart, starts: Sequence[Fraction]) -> int:
    """The smallest number of steps a whole note must have for every moment of a part to lie on one."""
    offsets = {moment.offset.denominator for bar in part.bars for moment in bar}
    return lcm(*offsets, *{start.denominator for start in starts})


def held(part: TabPart, starts: Sequence[int], steps: int) -> list[Held]:
    """Every note of a part in order of start, then from the thickest string to the thinnest.

    Args:
        part: the part.
        starts: where each bar begins, and last where the riff ends, in steps.
        steps: steps in a whole note, a multiple of the part's `grid`.
    """
    done: list[Held] = []
    open_notes: dict[int, tuple[int, Note, Moment, int]] = {}
    for number, (bar, start) in enumerate(zip(part.bars, starts, strict=False)):
        for moment in bar:
            if not (moment.notes or moment.rest):
                continue
            at = start + moment.offset.numerator * (steps // moment.offset.denominator)
            if moment.ring and not moment.rest:
                struck = {note.string for note in moment.notes}
                ended = [s for s, begun in open_notes.items() if s in struck or not begun[2].ring]
            else:
                ended = list(open_notes)
            for string in ended:
                begun_at, note, begun_moment, begun_bar = open_notes.pop(string)
                done.append((begun_at, at, note, begun_moment, begun_bar))
            for note in moment.notes:
                open_notes[note.string] = (at, note, moment, number)
    done += ((at, starts[-1], note, moment, number) for at, note, moment, number in open_notes.values())
    done.sort(key=lambda each: (each[0], -each[2].string))
    return done


def sounding(part: TabPart, starts: Sequence[Fraction]) -> tuple[SoundingNote, ...]:
    """Every note of a part in order of start, then from the thickest string to the thinnest.

    Args:
        part: the part.
        starts: where each bar begins, and last where the riff ends (`Riff.bar_starts`).
    """
    steps = grid(part, starts)
    on_grid = [start.numerator * (steps // start.denominator) for start in starts]
    return tuple(
        SoundingNote(
            Fraction(at, steps), Fraction(end - at, steps), note_midi(part.instrument, note), note, moment, bar
        )
        for at, end, note, moment, bar in held(part, on_grid, steps)
    )
