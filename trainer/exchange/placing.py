"""Strings and frets for the notes of a score: kept where it names them, found by the fingering solver where not."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.arranging.chain import StruckMoment, StruckNote, chain
from trainer.arranging.fingering import NoGripError, best_fingering
from trainer.arranging.grip import WantedNote, grips, places
from trainer.arranging.hand import STANDARD_HAND
from trainer.exchange.score import ScoreNote
from trainer.exchange.stretch import PartStretch
from trainer.music.instrument import BASS, HARMONICS, STANDARD, Instrument, instrument
from trainer.music.note import Attack, Note, Touch

Held = list[tuple[ScoreNote, Note]]
_LINKED = (Attack.HAMMER, Attack.PULL)
_VOICE = 100
"""Voices of notes without a string are their keys, from here up; those below are strings."""
_WHOLE_SECONDS = 2.0
"""Seconds that a whole note takes for the hand: 120 quarters a minute."""
GUITARS = (
    STANDARD,
    ("D2", "A2", "D3", "G3", "B3", "E4"),
    ("Eb2", "Ab2", "Db3", "Gb3", "Bb3", "Eb4"),
    ("D2", "G2", "C3", "F3", "A3", "D4"),
    ("C2", "G2", "C3", "F3", "A3", "D4"),
    ("B1", *STANDARD),
    ("F#1", "B1", *STANDARD),
)
"""Tunings that are tried for a guitar, low to high, the first that has every note."""
BASSES = (BASS, ("D1", "A1", "D2", "G2"), ("B0", *BASS))


def neck_for(keys: Sequence[int], *, bass: bool) -> Instrument:
    """The commonest neck on which some MIDI keys lie; the one with the most of them where none has all."""
    necks = [instrument(tuning) for tuning in (BASSES if bass else GUITARS)]
    return max(necks, key=lambda neck: sum(bool(neck.places(key)) for key in keys))


def place_notes(
    moments: Sequence[tuple[Fraction, Sequence[ScoreNote], bool]],
    neck: Instrument,
    where: PartStretch,
) -> list[Held]:
    """For each moment (place, notes, let ring) its notes on strings; those that cannot be played are left out, told."""
    kept = [_playable(at, notes, neck, where) for at, notes, _ in moments]
    if all(note.placed for notes in kept for note in notes):
        return [[(note, _as_written(note)) for note in notes] for notes in kept]
    steps = [
        StruckMoment(tuple(StruckNote(_voice(note), _wanted(note)) for note in notes), float(at) * _WHOLE_SECONDS, ring)
        for (at, _, ring), notes in zip(moments, kept, strict=True)
    ]
    links = chain(steps, neck)
    try:
        way = best_fingering(links.events, neck)
        found = dict(zip(links.steps, (grip.notes for grip in way.grips), strict=True))
    except NoGripError:
        found = {}
    return _on_strings(kept, found, neck)


def _on_strings(
    kept: Sequence[Sequence[ScoreNote]], found: dict[int, tuple[tuple[int, int, int], ...]], neck: Instrument
) -> list[Held]:
    done: list[Held] = []
    last: dict[int, bool] = {}
    for number, notes in enumerate(kept):
        held: Held = []
        taken: set[int] = set()
        for index, note in enumerate(notes):
            if note.placed:
                string, fret = note.note.string, note.note.fret
            elif number in found:
                string, fret, _ = found[number][index]
            else:
                free = [place for place in places(_wanted(note), neck) if place[0] not in taken]
                string, fret = free[0] if free else (0, 0)
            if string and string not in taken:
                taken.add(string)
                held.append((note, _as_written(note) if note.placed else _put(note, string, fret, string in last)))
        last |= dict.fromkeys(taken, True)
        done.append(held)
    return done


def _voice(note: ScoreNote) -> int:
    return note.note.string if note.placed else _VOICE + note.midi


def _wanted(note: ScoreNote) -> WantedNote:
    written = note.note
    place = (written.string, written.fret) if note.placed else None
    dead = written.touch is Touch.DEAD
    bend = 0 if written.bend is None else written.bend - written.fret
    free = dead or written.attack is Attack.TAP
    return WantedNote(None if dead else note.midi, place, 0, bend, written.vibrato, free, False)


def _as_written(note: ScoreNote) -> Note:
    return note.note


def _put(note: ScoreNote, string: int, fret: int, sounded: bool) -> Note:
    """A note on the string and fret that were found; what leads to it needs a note before it on its string."""
    written = note.note
    attack = Attack.PICK if written.attack in _LINKED and not sounded else written.attack
    bend = None if written.bend is None or not fret else written.bend + fret
    release = None if written.release is None or bend is None else written.release + fret
    dead = written.touch is Touch.DEAD
    return replace(
        written,
        string=string,
        fret=0 if dead else fret,
        attack=Attack.PICK if dead else attack,
        bend=bend,
        release=release,
        vibrato=written.vibrato and not dead,
        finger=written.finger if fret else "",
    )


def _playable(at: Fraction, notes: Sequence[ScoreNote], neck: Instrument, where: PartStretch) -> list[ScoreNote]:
    """The notes of a moment that this neck can play together; others are moved by octaves or left out, told."""
    kept: list[ScoreNote] = []
    strings: set[int] = set()
    keys: set[int] = set()
    for note in notes:
        if note.placed:
            if _is_on(note.note, neck) and note.note.string not in strings:
                strings.add(note.note.string)
                kept.append(note)
                continue
            beyond = note.note.string not in strings
            what = f"string {note.note.string}, fret {note.note.fret} is not on this neck: the note is placed anew"
            clash = f"two notes on string {note.note.string} at once: one of them is placed anew"
            where.tell(at, what if beyond else clash)
        if note.midi not in keys:  # else the same pitch twice, in two voices
            keys.add(note.midi)
            kept.append(note.anywhere())
    loose = [note for note in kept if not note.placed]
    fixed = [note for note in kept if note.placed]
    moved = [_in_range(note, neck) for note in loose]
    octaves = [note for note, to in zip(loose, moved, strict=True) if to is not None and to.midi != note.midi]
    if octaves:
        where.tell(at, "a note beyond the neck is moved by octaves")
    loose = sorted((note for note in moved if note is not None), key=lambda note: note.midi)
    left_out = len(moved) - len(loose)
    while loose and not _can_grip([*fixed, *loose], neck):
        loose.pop((len(loose) - 1) // 2 if len(loose) > 2 else 0)
        left_out += 1
    if left_out:
        what = "a note that cannot be played here is left out" if left_out == 1 else f"{left_out} notes are left out"
        where.tell(at, what + " (no grip holds the whole chord)" * (len(notes) > 1))
    return [*fixed, *loose]


def _can_grip(notes: Sequence[ScoreNote], neck: Instrument) -> bool:
    if len(notes) > neck.strings:
        return False
    return bool(grips(tuple(_wanted(note) for note in notes), neck, STANDARD_HAND))


def _is_on(note: Note, neck: Instrument) -> bool:
    highest = max(note.fret, note.bend or 0)
    harmonic = note.touch is not Touch.HARMONIC or note.fret in HARMONICS
    return 1 <= note.string <= neck.strings and 0 <= highest <= neck.last_fret and harmonic


def _in_range(note: ScoreNote, neck: Instrument) -> ScoreNote | None:
    """The note at an octave where this neck has it, the nearest one; None where it has none."""
    if note.note.touch is Touch.DEAD:
        return note
    for rise in (0, 12, -12, 24, -24, 36, -36, 48, -48, 60, -60):
        moved = replace(note, midi=note.midi + rise)
        if places(_wanted(moved), neck):
            return moved
    if note.note.bend is not None or note.note.vibrato:
        plain = replace(note, note=replace(note.note, bend=None, release=None, vibrato=False))
        return _in_range(plain, neck)
    return None
