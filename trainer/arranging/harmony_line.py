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
  harmony from that note to the end of its bar, as an accidental does; nothing before it changes.
- A pedal note inside the line, a low note that is palm-muted and keeps coming back between notes that are not, stays
  what it is: only the melody is answered, unless by octaves or an exact interval.
- A tap stays on the string of the note before it; where the harmony does not rise to it, it is picked.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache, partial

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


Answer = Callable[[Pitch], Pitch]
"""The pitch that answers a pitch of the line."""

Choose = Callable[[Scale, int, Fraction, Pitch], Answer]
"""Given the scale in force, the bar (from 0), the offset in it and the pitch at which a note of the line starts: how
that note is answered, its bends included."""

_RISING = {Attack.HAMMER: Attack.HAMMER, Attack.PULL: Attack.HAMMER}
_RISING |= {Attack.SLIDE_UP: Attack.SLIDE_UP, Attack.SLIDE_DOWN: Attack.SLIDE_UP}
_FALLING = {Attack.HAMMER: Attack.PULL, Attack.PULL: Attack.PULL}
_FALLING |= {Attack.SLIDE_UP: Attack.SLIDE_DOWN, Attack.SLIDE_DOWN: Attack.SLIDE_DOWN}
_LINKED = frozenset(_RISING)


def harmony_line(part: TabPart, key: Key, choose: Choose) -> tuple[tuple[HarmonyMoment, ...], ...]:
    """Every bar of a harmony to a part, in the part's rhythm."""
    before: dict[int, Pitch] = {}
    return tuple(_harmony_bar(part, number, key, choose, before) for number in range(len(part.bars)))


PEDAL_TIMES = 3
"""A palm-muted note must come so many times to be a pedal note. House rule."""


def pedal_places(part: TabPart) -> frozenset[tuple[int, Fraction]]:
    """Where a line plays its pedal note, by bar (from 0) and offset.

    A pedal note is the line's lowest note, where it is palm-muted and keeps coming back between notes that mostly are
    not.
    """
    single = [
        (number, moment, note_midi(part.instrument, moment.notes[0]))
        for number, bar in enumerate(part.bars)
        for moment in bar
        if len(moment.notes) == 1
    ]
    lowest = min((midi for *_, midi in single), default=0)
    others = [moment.mute for _, moment, midi in single if midi != lowest]
    found = frozenset((number, moment.offset) for number, moment, midi in single if midi == lowest and moment.mute)
    return found if len(found) >= PEDAL_TIMES and sum(others) < len(others) / 2 else frozenset()


def _harmony_bar(
    part: TabPart, number: int, key: Key, choose: Choose, before: dict[int, Pitch]
) -> tuple[HarmonyMoment, ...]:
    bar = part.bars[number]
    moments = []
    for moment, scale in zip(bar, bar_scales(part, bar, key), strict=True):
        if not (moment.notes or moment.rest):
            continue
        choose_here = partial(choose, scale, number, moment.offset)
        notes = []
        for note in moment.notes:
            found = _answer_note(part, note, key, choose_here, before)
            if found.pitch is not None:
                before[note.string] = found.pitch
            notes.append(found)
        moments.append(HarmonyMoment(moment, tuple(notes)))
    return tuple(moments)


def bar_scales(part: TabPart, bar: tuple[Moment, ...], key: Key) -> tuple[Scale, ...]:
    """The scale in force at each moment of a bar: the key's, with the degrees as the line itself plays them."""
    own = scale_of(key)
    forms = degree_forms(key)
    heard = [
        [forms[note_midi(part.instrument, note) % 12] for note in moment.notes if note.touch is not Touch.DEAD]
        for moment in bar
    ]
    if all(name is None or name in own.names for names in heard for name in names):
        return (own,) * len(bar)
    scales = []
    forms_now: dict[int, Name] = {}
    for names in heard:
        forms_now |= {name.step: name for name in names if name is not None}
        scales.append(own.altered(frozenset(forms_now.values())))
    return tuple(scales)


@lru_cache(maxsize=512)
def degree_forms(key: Key) -> tuple[Name | None, ...]:
    """For each pitch class the degree's form it shows: the key's own name, a sibling mode's, or None for neither."""
    own = {name.semitone: name for name in parent(key).names}
    others = {semitone: found[0] for semitone in range(12) if (found := borrowed(key, semitone))}
    return tuple(own.get(semitone, others.get(semitone)) for semitone in range(12))


def _answer_note(
    part: TabPart, note: Note, key: Key, choose: Callable[[Pitch], Answer], before: dict[int, Pitch]
) -> HarmonyNote:
    if note.touch is Touch.DEAD:
        return HarmonyNote(note, None, None, note.attack)
    start_midi = note_midi(part.instrument, note)
    start = spell(key, start_midi)
    answer = choose(start)
    pitch = answer(start)
    attack, linked = note.attack, False
    if note.attack in _LINKED and note.string in before:
        rise = pitch.midi - before[note.string].midi
        attack = _RISING[note.attack] if rise > 0 else _FALLING[note.attack] if rise < 0 else Attack.PICK
        linked = rise != 0
    if note.attack is Attack.TAP and note.string in before:
        linked = pitch.midi > before[note.string].midi
        attack = Attack.TAP if linked else Attack.PICK
    bend = release = None
    if note.bend is not None:
        goal = answer(spell(key, start_midi + note.bend - note.fret)).midi - pitch.midi
        bend = goal if goal > 0 else None
    if note.release is not None and bend is not None:
        low = answer(spell(key, start_midi + note.release - note.fret)).midi - pitch.midi
        release = min(max(low, 0), bend)
    return HarmonyNote(note, start, pitch, attack, linked, bend, release)
