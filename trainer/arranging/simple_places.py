"""A quick choice of places on the neck: each note near the one before, or near a fret that is asked for."""

from collections.abc import Sequence

from trainer.arranging.harmony_line import HarmonyMoment, HarmonyNote
from trainer.music.instrument import HARMONICS, Instrument
from trainer.music.note import Attack, Moment, Note, Touch

Place = tuple[int, int]
"""String and fret."""


def place_moment(
    instrument: Instrument, moment: HarmonyMoment, last: dict[int, int], near: int | None
) -> tuple[Moment, dict[int, int]] | None:
    """A moment with its notes on strings, or None where no choice of strings holds them all.

    Args:
        instrument: the neck.
        moment: what is to be played.
        last: for each string of the followed part, the string its last answer sounded on.
        near: a fret to stay close to; None for the line's own frets.
    """
    options = [_options(instrument, note, last, near) for note in moment.notes]
    chosen = _choose(options, ())
    if chosen is None and any(note.linked for note in moment.notes):
        options = [_options(instrument, note, {}, near) for note in moment.notes]
        chosen = _choose(options, ())
    if chosen is None:
        return None
    strings = dict(last)
    notes = []
    for wanted, (string, fret) in zip(moment.notes, chosen, strict=True):
        linked = wanted.linked and last.get(wanted.line.string) == string
        strings[wanted.line.string] = string
        notes.append(_note(instrument, wanted, string, fret, linked))
    line = moment.moment
    placed = Moment(
        line.offset,
        tuple(sorted(notes, key=lambda note: note.string)),
        line.rest,
        line.mute,
        line.ring,
        line.accent,
        line.pick,
    )
    return placed, strings


def _options(instrument: Instrument, wanted: HarmonyNote, last: dict[int, int], near: int | None) -> Sequence[Place]:
    """The places of one note, the nearest first."""
    line = wanted.line
    if wanted.pitch is None:
        own = last.get(line.string, min(line.string, instrument.strings))
        strings = [own, *(string for string in range(1, instrument.strings + 1) if string != own)]
        return [(string, 0) for string in strings]
    anchor = line.fret if near is None else near
    if line.touch is Touch.HARMONIC and (found := _harmonics(instrument, wanted.pitch.midi)):
        return sorted(found, key=lambda place: abs(place[1] - anchor))
    places = [
        (string, fret)
        for string, fret in instrument.places(wanted.pitch.midi)
        if fret or not (wanted.bend or line.vibrato)
    ]
    if wanted.linked and line.string in last:
        places = [place for place in places if place[0] == last[line.string]]
    return sorted(places, key=lambda place: (abs(place[1] - anchor), -place[1]))


def _harmonics(instrument: Instrument, midi: int) -> list[Place]:
    return [
        (string, fret)
        for string in range(1, instrument.strings + 1)
        for fret in HARMONICS
        if fret <= instrument.last_fret and instrument.harmonic_midi(string, fret) == midi
    ]


def _choose(options: Sequence[Sequence[Place]], taken: tuple[Place, ...]) -> tuple[Place, ...] | None:
    """One place for each note on strings of their own, early options first."""
    if len(taken) == len(options):
        return taken
    used = {string for string, _ in taken}
    for place in options[len(taken)]:
        if place[0] not in used and (found := _choose(options, (*taken, place))) is not None:
            return found
    return None


def _note(instrument: Instrument, wanted: HarmonyNote, string: int, fret: int, linked: bool) -> Note:
    line = wanted.line
    touch = line.touch
    if touch is Touch.HARMONIC and wanted.pitch is not None:
        sounds = fret in HARMONICS and instrument.harmonic_midi(string, fret) == wanted.pitch.midi
        touch = Touch.HARMONIC if sounds else Touch.FRETTED
    attack = Attack.PICK if wanted.linked and not linked else wanted.attack
    return Note(
        string,
        fret,
        attack,
        touch,
        None if wanted.bend is None else fret + wanted.bend,
        None if wanted.release is None else fret + wanted.release,
        line.vibrato,
        line.short,
    )
