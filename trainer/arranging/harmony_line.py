"""A line and its answer: every note of a harmony with its techniques, before it has a place on the neck.

How techniques carry over:

- Rests, rhythm, palm mute, let ring, accents, strokes, vibrato and short notes are the line's own.
- A bend goes from the answer of its first pitch to the answer of its goal: where the line bends a whole tone the
  harmony may bend a semitone. A goal that is the harmony's own first pitch, or lies below it, cannot be bent to: the
  note is held. A release is answered in the same way.
- A hammer-on, pull-off or slide keeps its string. Its direction is the harmony's own: where the harmony falls, a
  hammer-on becomes a pull-off; where it repeats a pitch, the note is picked.
- A dead note stays dead. A natural harmonic stays one where the neck has it at the wanted pitch, else it is fretted.
- A mode change inside the line: an altered degree that makes a sibling mode (C# in E aeolian: dorian) holds for the
  harmony as an accidental does. Inside a bar each degree takes the form that the line itself used last in that bar,
  and before the first of them the form that comes first.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from trainer.arranging.scale import Scale, borrowed, parent, scale_of, spell
from trainer.music.key import Key
from trainer.music.note import Attack, Moment, Note, Touch
from trainer.music.part import TabPart
from trainer.music.pitch import Name, Pitch
from trainer.music.sounding import note_midi


@dataclass(frozen=True, slots=True)
class HarmonyNote:
    """One note of a harmony that still lacks its string and fret."""

    line: Note
    """The note it answers."""
    line_pitch: Pitch | None
    """None for a dead note."""
    pitch: Pitch | None
    """None for a dead note."""
    attack: Attack = Attack.PICK
    linked: bool = False
    """It sounds on the string of the note before it: a hammer-on, pull-off or slide."""
    bend: int | None = None
    """Semitones above its first pitch that the bend reaches."""
    release: int | None = None
    """Semitones above its first pitch that the bend is let down to."""


@dataclass(frozen=True, slots=True)
class HarmonyMoment:
    """What a harmony plays at one count."""

    moment: Moment
    """The line's moment."""
    notes: tuple[HarmonyNote, ...]


Answer = Callable[[Scale, int, Fraction, Pitch], Pitch]
"""Given the scale in force, the bar (from 0), the offset in it and a pitch of the line, the pitch that answers it."""

_RISING = {Attack.HAMMER: Attack.HAMMER, Attack.PULL: Attack.HAMMER}
_RISING |= {Attack.SLIDE_UP: Attack.SLIDE_UP, Attack.SLIDE_DOWN: Attack.SLIDE_UP}
_FALLING = {Attack.HAMMER: Attack.PULL, Attack.PULL: Attack.PULL}
_FALLING |= {Attack.SLIDE_UP: Attack.SLIDE_DOWN, Attack.SLIDE_DOWN: Attack.SLIDE_DOWN}
_LINKED = frozenset(_RISING)


def harmony_line(part: TabPart, key: Key, answer: Answer) -> tuple[tuple[HarmonyMoment, ...], ...]:
    """Every bar of a harmony to a part, in the part's rhythm."""
    before: dict[int, Pitch] = {}
    return tuple(_harmony_bar(part, number, key, answer, before) for number in range(len(part.bars)))


def _harmony_bar(
    part: TabPart, number: int, key: Key, answer: Answer, before: dict[int, Pitch]
) -> tuple[HarmonyMoment, ...]:
    bar = part.bars[number]
    moments = []
    for moment, scale in zip(bar, bar_scales(part, bar, key), strict=True):
        if not (moment.notes or moment.rest):
            continue
        answers = partial(answer, scale, number, moment.offset)
        notes = []
        for note in moment.notes:
            found = _answer_note(part, note, key, answers, before)
            if found.pitch is not None:
                before[note.string] = found.pitch
            notes.append(found)
        moments.append(HarmonyMoment(moment, tuple(notes)))
    return tuple(moments)


def bar_scales(part: TabPart, bar: tuple[Moment, ...], key: Key) -> tuple[Scale, ...]:
    """The scale in force at each moment of a bar: the key's, with the degrees as the line itself plays them."""
    own = scale_of(key)
    if part.instrument.strings == 0:
        return (own,) * len(bar)
    semitones = frozenset(parent(key).semitones)
    midis = [
        [note_midi(part.instrument, note) % 12 for note in moment.notes if note.touch is not Touch.DEAD]
        for moment in bar
    ]
    if all(midi in semitones for heard in midis for midi in heard):
        return (own,) * len(bar)
    scales = []
    forms: dict[int, Name] = {}
    for heard in midis:  # the form that comes first in the bar holds from its start
        for name in _forms(key, heard):
            forms.setdefault(name.step, name)
    for heard in midis:
        forms |= {name.step: name for name in _forms(key, heard)}
        scale = own
        for name in forms.values():
            scale = scale.altered(name)
        scales.append(scale)
    return tuple(scales)


def _forms(key: Key, semitones: list[int]) -> list[Name]:
    """The degrees' forms that some pitch classes show: the key's own names, and borrowed ones."""
    found = []
    for semitone in semitones:
        if semitone in parent(key).semitones:
            found.append(parent(key).spell(semitone).name)
        elif (other := borrowed(key, semitone)) is not None:
            found.append(other[0])
    return found


def _answer_note(
    part: TabPart, note: Note, key: Key, answer: Callable[[Pitch], Pitch], before: dict[int, Pitch]
) -> HarmonyNote:
    if note.touch is Touch.DEAD:
        return HarmonyNote(note, None, None, note.attack)
    start_midi = note_midi(part.instrument, note)
    start = spell(key, start_midi)
    pitch = answer(start)
    attack, linked = note.attack, False
    if note.attack in _LINKED and note.string in before:
        rise = pitch.midi - before[note.string].midi
        attack = _RISING[note.attack] if rise > 0 else _FALLING[note.attack] if rise < 0 else Attack.PICK
        linked = rise != 0
    bend = release = None
    if note.bend is not None:
        goal = answer(spell(key, start_midi + note.bend - note.fret)).midi - pitch.midi
        bend = goal if goal > 0 else None
    if note.release is not None and bend is not None:
        low = answer(spell(key, start_midi + note.release - note.fret)).midi - pitch.midi
        release = min(max(low, 0), bend)
    return HarmonyNote(note, start, pitch, attack, linked, bend, release)
