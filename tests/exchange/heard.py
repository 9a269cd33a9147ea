"""What an exercise sounds like, for comparing one with what came back of it."""

from dataclasses import replace
from fractions import Fraction

from trainer.music.exercise import Exercise
from trainer.music.note import Note
from trainer.music.part import DrumPart, TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import sounding

Sound = tuple[Fraction, Fraction, int, Note, tuple[bool, bool, str, str]]
"""Where a note begins and ends, its key, its string, fret and techniques, its mute, ring, accent and stroke."""


def notes_of(part: TabPart, riff: Riff) -> list[Sound]:
    found = [
        (n.at, n.end, n.midi, _as_bent(n.note), (n.moment.mute, n.moment.ring, n.moment.accent, n.moment.pick))
        for n in sounding(part, riff.bar_starts)
    ]
    return sorted(found, key=lambda sound: (sound[0], sound[3].string))


def _as_bent(note: Note) -> Note:
    """A computed harmony may let a bend down to where it is, which is a held bend."""
    return replace(note, release=None) if note.release == note.bend else note


def heard(exercise: Exercise) -> dict[str, object]:
    """For each riff everything that is heard of it."""
    return {riff.name: heard_riff(riff) for riff in exercise.riffs}


def heard_riff(riff: Riff) -> dict[str, object]:
    parts: dict[str, object] = {}
    for part in riff.parts:
        if isinstance(part, TabPart) and any(moment.notes for bar in part.bars for moment in bar):
            parts[part.name] = notes_of(part, riff)
        elif isinstance(part, DrumPart) and any(part.bars):
            parts[part.name] = part.bars
    return {
        "key": riff.key,
        "tempo": riff.tempo,
        "meters": riff.meters,
        "marks": riff.tempo_marks,
        "parts": parts,
    }
