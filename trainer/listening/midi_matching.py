"""A MIDI take laid over the written part, exactly.

The same matching as for sound, on notes whose pitch is known: a stroke is anchored to one note by the best
explanation of the whole take, then its other strings are gathered around it. Deviations are differences of exact
times; only the search rounds.
"""

from collections.abc import Sequence
from fractions import Fraction
from statistics import median

import numpy as np

from trainer.listening.alignment import Alignment, align
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.performance import Extra, Performance, PlayedStroke, nearest
from trainer.listening.sound import Floats, Ints
from trainer.listening.written import WrittenPart, WrittenStroke

RIGHT, WRONG, DOUBLED = 1.0, -2.5, -5.0
"""Log odds of a note's pitch, for the written stroke against a note of nobody's: one in twenty is wrong, and a note of
nobody's often repeats a written one; and of a note that repeats the last pitch within `DOUBLE_S`, which is rather
the pick touching twice than a stroke."""
TAIL, FINE_S = 30.0, 0.012
"""Degrees of freedom and least width of the spread: stamps do not err, only the player's own spread is left."""
STRUM_S = Fraction(6, 100)
"""A chord's strings are struck within 60 ms."""
DOUBLE_S, SURELY_S = Fraction(6, 100), 0.030
"""A note that repeats a stroke's pitch within 60 ms after it is a double, even where it is the nearer of the two
in time, if the first is not farther than 30 ms from where it is expected."""


def match_midi(take: MidiTake, written: WrittenPart, start: Fraction | None = None) -> Performance:
    """Lay a MIDI take over the written part.

    Args:
        take: the notes as they arrived.
        written: what should have been played.
        start: second of the take at which the part begins, where it is known (the clock that plays the click stamped
            the notes); None looks for it and takes the median deviation out.
    """
    notes = take.notes
    if not notes:
        strokes = tuple(PlayedStroke(stroke, shift=None) for stroke in written.strokes)
        return Performance(written, strokes, (), float(start or 0), start is not None)
    times = np.array([float(note.at) for note in notes])
    at = np.array([float(stroke.at) for stroke in written.strokes])
    starts = [(float(start), 1.0)] if start is not None else None
    rows, chord = _pitch_rows(notes, written.strokes)
    alignment = align(at, times, lambda strokes, near: rows[chord[strokes], near], starts, tail=TAIL, fine_s=FINE_S)
    anchors = _without_doubles(alignment, notes, written)
    groups = _gather(anchors, notes, written)
    firsts = {index: min(notes[k].at for k in group) for index, group in enumerate(groups) if group}
    begins = start if start is not None else _median(firsts, written, Fraction(str(round(alignment.start_s, 6))))
    played = tuple(
        _played(stroke, [notes[k] for k in group], begins)
        for stroke, group in zip(written.strokes, groups, strict=True)
    )
    taken = {k for group in groups for k in group}
    extras = tuple(_extra(note, written, begins) for k, note in enumerate(notes) if k not in taken)
    return Performance(written, played, extras, float(begins), start is not None, alignment.rate)


def _pitch_rows(notes: Sequence[MidiNote], strokes: Sequence[WrittenStroke]) -> tuple[Floats, Ints]:
    """For each written chord the log odds of every note by its pitch, shape (chords, notes); each stroke's chord."""
    pitches = np.array([note.pitch for note in notes])
    doubled = np.zeros(len(notes))
    last: dict[int, Fraction] = {}
    for k, note in enumerate(notes):
        if note.at - last.get(note.pitch, Fraction(-1)) <= DOUBLE_S:
            doubled[k] = DOUBLED
        last[note.pitch] = note.at
    chords = {chord: row for row, chord in enumerate(dict.fromkeys(stroke.pitches for stroke in strokes))}
    odds = [doubled + (np.where(np.isin(pitches, chord), RIGHT, WRONG) if chord else 0.0) for chord in chords]
    return np.array(odds), np.array([chords[stroke.pitches] for stroke in strokes])


def _without_doubles(alignment: Alignment, notes: Sequence[MidiNote], written: WrittenPart) -> list[int | None]:
    """The anchors, each moved to the first of two notes of one pitch that are too close to be two strokes.

    Where the earlier of the two may as well be the double of the stroke before, the nearer in time keeps it.
    """
    moved: list[int | None] = [None if anchor < 0 else int(anchor) for anchor in alignment.attack]
    used = {anchor for anchor in moved if anchor is not None}
    before = -1
    for index, anchor in enumerate(moved):
        if anchor is None:
            continue
        mine = notes[anchor]
        for k in range(anchor - 1, before, -1):
            note = notes[k]
            if mine.at - note.at > DOUBLE_S:
                break
            same = k not in used and note.pitch == mine.pitch and note.pitch in written.strokes[index].pitches
            after = before >= 0 and notes[before].pitch == note.pitch and note.at - notes[before].at <= DOUBLE_S
            expected = abs(float(note.at) - alignment.expected[index]) < SURELY_S
            if same and expected and not after:
                moved[index] = k
        before = anchor
    return moved


def _gather(anchors: list[int | None], notes: Sequence[MidiNote], written: WrittenPart) -> list[list[int]]:
    """For each stroke the notes that are its strings: first the written pitches, then what stands in for the rest."""
    taken = {anchor for anchor in anchors if anchor is not None}
    groups: list[list[int]] = [[] if anchor is None else [anchor] for anchor in anchors]
    for stroke, group in zip(written.strokes, groups, strict=True):
        if not group or len(stroke.pitches) < 2:
            continue
        anchor = notes[group[0]]
        near = [k for k, note in enumerate(notes) if abs(note.at - anchor.at) <= STRUM_S and k not in taken]
        near.sort(key=lambda k: abs(notes[k].at - anchor.at))
        wanted = [pitch for pitch in stroke.pitches if pitch != anchor.pitch]
        wanted = wanted if anchor.pitch in stroke.pitches else wanted[: len(stroke.pitches) - 1]
        for pitch in list(wanted):
            found = next((k for k in near if notes[k].pitch == pitch), None)
            if found is not None:
                group.append(found)
                near.remove(found)
                wanted.remove(pitch)
        group.extend(near[: len(wanted)])
        taken.update(group)
    return groups


def _median(firsts: dict[int, Fraction], written: WrittenPart, otherwise: Fraction) -> Fraction:
    """Where the part begins: the median over the strokes that were played."""
    offsets = [at - written.strokes[index].at for index, at in firsts.items()]
    return median(offsets) if offsets else otherwise


def _played(stroke: WrittenStroke, notes: list[MidiNote], start: Fraction) -> PlayedStroke:
    """What became of a stroke, from the notes that are its strings."""
    if not notes:
        return PlayedStroke(stroke, shift=None)
    first, last = min(note.at for note in notes), max(note.at for note in notes)
    pitches = sorted(note.pitch for note in notes)
    missing = tuple(sorted(set(stroke.pitches) - set(pitches)))
    strange = sorted(set(pitches) - set(stroke.pitches))
    shift = strange[0] - missing[0] if missing and strange else 0
    deviation = float((first - start - stroke.at) * 1000)
    strum = float((last - first) * 1000) if len(stroke.pitches) > 1 else None
    graded = not (stroke.bent or stroke.dead)
    return PlayedStroke(stroke, float(first), deviation, shift if graded else None, strum, missing if graded else ())


def _extra(note: MidiNote, written: WrittenPart, start: Fraction) -> Extra:
    """A note that is no stroke's."""
    near = nearest(written, note.at - start)
    return Extra(float(note.at), note.pitch, near, doubled=note.pitch in near.pitches, certain=True)
