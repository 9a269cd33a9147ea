"""What a part covers: its lowest and highest note, its frets and strings, and the techniques it is played with."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from trainer.arranging.scale import spell
from trainer.music.key import Key
from trainer.music.note import Attack, Moment, Note, Touch
from trainer.music.part import TabPart
from trainer.music.pitch import Pitch
from trainer.music.sounding import note_midi

ATTACKS = {
    Attack.HAMMER: "hammer-ons",
    Attack.PULL: "pull-offs",
    Attack.SLIDE_UP: "slides",
    Attack.SLIDE_DOWN: "slides",
    Attack.TAP: "taps",
}
TOUCHES = {Touch.DEAD: "dead notes", Touch.HARMONIC: "harmonics"}
TECHNIQUES = (
    "palm mutes",
    "ringing notes",
    "accents",
    "hammer-ons",
    "pull-offs",
    "slides",
    "taps",
    "bends",
    "vibrato",
    "short notes",
    "dead notes",
    "harmonics",
)
"""What is counted, in the order in which it is told."""


@dataclass(frozen=True, slots=True)
class Compass:
    """What a part covers."""

    lowest: Pitch
    highest: Pitch
    frets: tuple[int, int]
    """The lowest and the highest fretted fret; 0 and 0 where all strings are open."""
    strings: tuple[int, int]
    """The thinnest and the thickest string played."""
    notes: int
    techniques: tuple[tuple[str, int], ...]
    """What occurs of `TECHNIQUES` and on how many notes."""


def compass(part: TabPart, key: Key) -> Compass | None:
    """What a part covers; None for one without pitches."""
    notes = [note for bar in part.bars for moment in bar for note in moment.notes]
    heard = [note_midi(part.instrument, note) for note in notes if note.touch is not Touch.DEAD]
    if not heard:
        return None
    frets = [note.fret for note in notes if note.fret] or [0]
    strings = [note.string for note in notes]
    return Compass(
        spell(key, min(heard)),
        spell(key, max(heard)),
        (min(frets), max(frets)),
        (min(strings), max(strings)),
        len(notes),
        techniques(moment for bar in part.bars for moment in bar),
    )


def techniques(moments: Iterable[Moment]) -> tuple[tuple[str, int], ...]:
    """What occurs of `TECHNIQUES` in some moments, and on how many notes."""
    counts: Counter[str] = Counter()
    for moment in moments:
        for note in moment.notes:
            counts.update(_of_note(note, moment))
    return tuple((name, counts[name]) for name in TECHNIQUES if counts[name])


def _of_note(note: Note, moment: Moment) -> list[str]:
    found = [
        name
        for name, is_so in (
            ("palm mutes", moment.mute),
            ("ringing notes", moment.ring),
            ("accents", bool(moment.accent)),
            ("bends", note.bend is not None),
            ("vibrato", note.vibrato),
            ("short notes", note.short),
        )
        if is_so
    ]
    named = (ATTACKS.get(note.attack), TOUCHES.get(note.touch))
    return [*found, *(name for name in named if name)]
