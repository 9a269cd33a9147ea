"""A score as another program wrote it, before it becomes an exercise: bars, keys, tempos, and the notes of each part.

What reads a format makes a `Score` of it; `exchange.assemble` makes an exercise of any score. Places are in whole
notes from the score's start, bars are counted from 0.
"""

from dataclasses import dataclass, field, replace
from fractions import Fraction

from trainer.exchange.details import ExerciseDetails
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.note import Hit, Note, Touch

MOST_NOTES = 30_000
"""Notes of one score that are read."""
MOST_SCORE_BARS = 2_000
"""Bars of one score that are read, repeats written out."""


@dataclass(frozen=True, slots=True, order=True)
class Change:
    """Something that an exercise cannot hold, or that was changed to fit into one."""

    bar: int
    """From 1; 0 where no bar is meant."""
    beat: str
    """The count in the bar, such as "3 &"; empty where the whole bar is meant."""
    part: str
    """The part's name; empty for the whole score."""
    what: str
    """A sentence without its full stop."""

    def __str__(self) -> str:
        """One line for the terminal."""
        words = (self.part, f"bar {self.bar}" if self.bar else "", f"beat {self.beat}" if self.beat else "")
        where = ", ".join(word for word in words if word)
        return f"{where}: {self.what}." if where else f"{self.what}."


@dataclass(frozen=True, slots=True)
class ScoreNote:
    """One note of a pitched part."""

    at: Fraction
    end: Fraction
    midi: int
    """The MIDI key that sounds at its start."""
    note: Note
    """Its techniques; its string and fret count where `placed`. A bend's frets count from 0 where it is not placed."""
    placed: bool = False
    """Whether the score says on which string and fret it is played."""
    mute: bool = False
    ring: bool = False
    accent: str = ""
    pick: str = ""

    def anywhere(self) -> "ScoreNote":
        """The note without its string and fret: only its pitch and techniques are kept."""
        old = self.note
        bend = None if old.bend is None else old.bend - old.fret
        release = None if old.release is None else old.release - old.fret
        touch = Touch.DEAD if old.touch is Touch.DEAD else Touch.FRETTED
        new = replace(old, string=0, fret=0, bend=bend, release=release, touch=touch)
        return replace(self, note=new, placed=False) if self.placed else self


@dataclass(frozen=True, slots=True)
class ScorePart:
    """What one player plays through the whole score."""

    name: str
    notes: tuple[ScoreNote, ...] = ()
    """In order of time."""
    hits: tuple[tuple[Fraction, Hit], ...] = ()
    """For the kit: what is struck, and when."""
    necks: tuple[tuple[int, tuple[str, ...], int], ...] = ()
    """From which bar on the open strings (low to high) and the capo are so; empty where the score does not say."""
    chords: tuple[tuple[Fraction, str], ...] = ()
    """Chord names and where they stand."""
    drums: bool = False
    band: bool = True
    """Whether it is a guitar, a bass or drums, as far as the score tells."""


@dataclass(frozen=True, slots=True)
class Score:
    """A whole score."""

    title: str
    meters: tuple[Meter, ...]
    """One for each bar."""
    parts: tuple[ScorePart, ...]
    by: str = ""
    licence: str = ""
    sections: tuple[tuple[int, str], ...] = ()
    """Rehearsal marks or markers: the bar at which a section begins, and its name."""
    keys: tuple[tuple[int, Key], ...] = ()
    """The bar from which on a key holds."""
    tempos: tuple[tuple[Fraction, Fraction], ...] = ()
    """Where a tempo begins, and how many quarters a minute it has."""
    changes: tuple[Change, ...] = ()
    told: tuple[str, ...] = ()
    """What else is good to know of how it was read, as sentences."""
    details: ExerciseDetails = field(default_factory=ExerciseDetails)
