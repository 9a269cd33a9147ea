"""An exercise from plain tab: what it says is kept, and what it leaves open is proposed and listed as a guess."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.music.exercise import Exercise
from trainer.music.instrument import BASS, HARMONICS, STANDARD, Instrument
from trainer.music.meter import Meter
from trainer.music.note import Attack, Moment, Note, Touch
from trainer.music.part import PartSettings, TabPart
from trainer.music.pitch import Pitch
from trainer.music.problem import Problem, ProblemsError
from trainer.music.riff import Riff
from trainer.music.tempo import Tempo
from trainer.notation.cell import MOST_BEND
from trainer.notation.count import write_counts
from trainer.notation.front import DEFAULT_KEY, DEFAULT_TEMPO
from trainer.notation.plain_rhythm import (
    Grid,
    counted,
    fitting,
    lettered,
    lettered_length,
    marked,
    ranged,
    spaced,
    strokes_of,
)
from trainer.notation.plain_tab import MOST_COLUMNS, PlainBar, PlainNote, PlainSystem, find_systems
from trainer.notation.tab import MOST_BARS

TUNINGS: dict[int, tuple[str, ...]] = {
    4: BASS,
    5: ("B0", *BASS),
    6: STANDARD,
    7: ("B1", *STANDARD),
    8: ("F#1", "B1", *STANDARD),
    9: ("C#1", "F#1", "B1", *STANDARD),
}
"""Open strings, low to high, where plain tab names none: for each number of strings."""
METERS = tuple(Meter.parse(text) for text in ("4/4", "3/4", "6/8", "12/8", "7/8", "5/4"))
"""Meters that are tried where none is given and no counts are written."""
UNEVEN = 0.5
"""The cost of a grid from which on notes stand unevenly on it."""


@dataclass(frozen=True, slots=True, order=True)
class Guess:
    """Something that plain tab leaves open, and how it was read."""

    line: int
    """The line of the text, from 1."""
    what: str
    """A sentence without its full stop."""

    def __str__(self) -> str:
        """One line for the terminal."""
        return f"line {self.line}: {self.what}."


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the player says of a plain tab; None and empty texts leave it open."""

    title: str = "Untitled"
    part: str = ""
    meter: Meter | None = None
    tempo: Tempo = DEFAULT_TEMPO
    tuning: tuple[str, ...] = ()
    finest: int | None = None
    """The shortest note there may be, as parts of a whole note."""


def read_plain(text: str, wishes: Wishes, file: str = "plain tab") -> tuple[Exercise, tuple[Guess, ...]]:
    """The exercise that a plain tab says, and what was guessed.

    Raises:
        ProblemsError: for a text without tab.
    """
    for number, line in enumerate(text.splitlines(), 1):
        if len(line) > MOST_COLUMNS and line.count("-") * 4 > len(line):
            what = f"a line of tab with {len(line):,} characters"
            raise ProblemsError([Problem(file, number, 0, what, f"at most {MOST_COLUMNS:,}", "Break it at a bar line")])
    systems = find_systems(text)
    if not any(bar.notes for system in systems for bar in system.bars):
        hint = "A system is four to nine lines of dashes and frets under each other, the thinnest string on top"
        raise ProblemsError([Problem(file, 0, 0, "no tab was found in this text", "", hint)])
    strings = len(systems[0].names)
    guesses = [
        Guess(system.line, f"a system of {len(system.names)} strings among others of {strings} is left out")
        for system in systems
        if len(system.names) != strings
    ]
    systems = tuple(system for system in systems if len(system.names) == strings)
    if sum(len(system.bars) * system.times for system in systems) > MOST_BARS:
        raise ProblemsError([Problem(file, 0, 0, "this tab is too long", f"at most {MOST_BARS:,} bars", "Divide it")])
    if strings not in TUNINGS:
        raise ProblemsError([Problem(file, systems[0].line, 0, f"a tab of {strings} strings", "4 to 9 strings")])
    if wishes.tuning and len(wishes.tuning) != strings:
        what = f"a tuning of {len(wishes.tuning)} strings, the tab has {strings}"
        raise ProblemsError([Problem(file, systems[0].line, 0, what)])
    reader = _Reader(systems, wishes, guesses)
    return reader.exercise(), tuple(sorted(set(reader.guesses)))


class _Reader:
    """Turns the systems of one text into one part."""

    def __init__(self, systems: Sequence[PlainSystem], wishes: Wishes, guesses: list[Guess]) -> None:
        self.systems, self.wishes, self.guesses = systems, wishes, guesses
        self.strings = len(systems[0].names)
        self.flipped = _low_on_top(systems[0].names)
        if self.flipped:
            self.guess(systems[0].line, "the strings' names say that the thickest stands on top")
        names = systems[0].names[::-1] if self.flipped else systems[0].names
        self.tuning = wishes.tuning or _tuning(names)
        self.instrument = Instrument(tuple(Pitch.parse(name) for name in self.tuning))
        self.meter = self._meter()
        self.last: dict[int, int] = {}

    def guess(self, line: int, what: str) -> None:
        self.guesses.append(Guess(line, what))

    def _meter(self) -> Meter:
        if self.wishes.meter:
            return self.wishes.meter
        first = self.systems[0].line
        for meter in (*METERS, Meter(9, 8)):
            places = [counted(system, meter) for system in self.systems]
            if any(places):
                beats = max(_beats(system) for system in self.systems)
                found = Meter(beats, 8 if beats in (6, 7, 9, 12) else 4)
                self.guess(first, f"the counts go to {beats}: read as {found}")
                return found
        written = max(lettered_length(system) for system in self.systems)
        for meter in METERS:
            if written == meter.length:
                self.guess(first, f"the note lengths fill bars of {meter}")
                return meter
        costs = {meter: max(self._grid(system, meter).cost for system in self.systems) for meter in METERS}
        best = min(METERS, key=lambda meter: (costs[meter] > UNEVEN, METERS.index(meter)))
        self.guess(first, f"no meter is written: read as {best}")
        return best

    def _grid(self, system: PlainSystem, meter: Meter) -> Grid:
        return fitting(system.bars, meter, self.wishes.finest) or Grid(0, 1, 99.0)

    def exercise(self) -> Exercise:
        bars: list[tuple[Moment, ...]] = []
        for system in self.systems:
            grid = self._grid(system, self.meter)
            places = counted(system, self.meter) or lettered(system, self.meter)
            read = [
                self._bar(system, number, bar, places[number] if places else None, grid)
                for number, bar in enumerate(system.bars)
            ]
            bars += read * system.times
            if system.left_out:
                marks = " ".join(system.left_out)
                self.guess(system.line, f"marks that have no note of their own here are left out: {marks}")
            if places is None:
                note = _slot_name(grid, system.bars[0], self.meter, self.wishes.finest)
                self.guess(system.line, f"no counts are written: by its spacing {note}")
        name = self.wishes.part or ("bass" if self.strings in (4, 5) else "guitar 1")
        usual = BASS if name.startswith("bass") else STANDARD
        settings = () if self.tuning == usual else (PartSettings(name, tuning=self.tuning),)
        meters = (self.meter,) * len(bars)
        riff = Riff("Riff", DEFAULT_KEY, self.wishes.tempo, meters, (TabPart(name, self.instrument, tuple(bars)),))
        return Exercise(
            id=re.sub(r"[^a-z0-9]+", "-", self.wishes.title.casefold()).strip("-") or "untitled",
            title=self.wishes.title,
            key=DEFAULT_KEY,
            tempo=self.wishes.tempo,
            riffs=(riff,),
            meter=self.meter,
            parts=settings,
        )

    def _bar(
        self, system: PlainSystem, number: int, bar: PlainBar, places: list[Fraction] | None, grid: Grid
    ) -> tuple[Moment, ...]:
        strokes = strokes_of(bar)
        if places is None or not _can_be_counted(places, self.meter):
            if places is not None:
                self.guess(system.line, f"bar {number + 1}: its counts do not fit its notes, so their spacing is read")
            places = spaced(bar, self.meter, grid, self.wishes.finest)
            alone = fitting([bar], self.meter, self.wishes.finest)
            if not _can_be_counted(places, self.meter) and alone:
                places = spaced(bar, self.meter, alone, self.wishes.finest)
            if not _can_be_counted(places, self.meter):
                self.guess(system.line, f"bar {number + 1}: its notes fit no count and are laid out one after another")
                step = next(n for n in (1, 2, 4, 8, 16, 32) if n * self.meter.counts >= len(strokes) or n == 32)
                places = [self.meter.count_length * Fraction(i, step) for i in range(len(strokes))]
        mutes, rings = ranged(system, "p"), ranged(system, "l")
        accents, picks = marked(system, ">^"), marked(system, "du")
        moments = []
        for stroke, offset in zip(strokes, places, strict=True):
            notes = [note for plain in stroke if (note := self._note(system.line, number, plain))]
            if not notes:
                continue
            begin, end = stroke[0].column, max(note.end for note in stroke)
            moments.append(
                Moment(
                    offset,
                    tuple(sorted(notes, key=lambda note: note.string)),
                    mute=any(first < end and begin < last for first, last in mutes),
                    ring=any(first < end and begin < last for first, last in rings),
                    accent=next((mark for at, mark in accents.items() if begin <= at < end), ""),
                    pick=next((mark for at, mark in picks.items() if begin <= at < end), ""),
                )
            )
        return tuple(moments)

    def _note(self, line: int, number: int, plain: PlainNote) -> Note | None:
        """The note as the file says it; None for one that is only held on."""
        string = self.strings + 1 - plain.string if self.flipped else plain.string
        bar = f"bar {number + 1}"
        before = self.last.get(string)
        if plain.dead:
            return Note(string, 0, touch=Touch.DEAD)
        if plain.harmonic and plain.fret in HARMONICS:
            return Note(string, plain.fret, touch=Touch.HARMONIC)
        if plain.harmonic:
            self.guess(line, f"{bar}: no natural harmonic lies over fret {plain.fret}: read as a fretted note")
        if plain.bracketed:
            if plain.fret == before:
                self.guess(line, f"{bar}: ({plain.fret}) is read as held on, not struck again")
                return None
            self.guess(line, f"{bar}: ({plain.fret}) is read as struck")
        fret = min(plain.fret, self.instrument.last_fret)
        attack = self._attack(line, bar, plain.attack, fret, before)
        bend = release = None
        if plain.bend is not None and fret:
            bend = plain.bend if fret < plain.bend <= fret + MOST_BEND else fret + 2
            if bend != plain.bend:
                self.guess(line, f"{bar}: a bend on fret {fret} without a goal is read as a whole tone, to fret {bend}")
            bend = min(bend, self.instrument.last_fret) if fret < self.instrument.last_fret else None
            if plain.release is not None and bend:
                release = plain.release if fret <= plain.release < bend else fret
        self.last[string] = fret
        return Note(string, fret, attack, bend=bend, release=release, vibrato=plain.vibrato)

    def _attack(self, line: int, bar: str, mark: str, fret: int, before: int | None) -> Attack:
        if mark == "t":
            return Attack.TAP
        if not mark:
            return Attack.PICK
        if before is None or before == fret:
            self.guess(line, f"{bar}: {mark} before fret {fret} leads from no other fret: read as picked")
            return Attack.PICK
        ways = (Attack.PULL, Attack.HAMMER) if mark in "hp" else (Attack.SLIDE_DOWN, Attack.SLIDE_UP)
        found = ways[fret > before]
        if mark not in {"s", found.value}:
            self.guess(line, f"{bar}: {mark} from fret {before} to fret {fret} is read as {found.value}")
        return found


def _low_on_top(names: Sequence[str]) -> bool:
    """Whether the strings' names say that the thickest stands on top."""
    if not all(names):
        return False
    usual = [re.sub(r"\d", "", name) for name in TUNINGS.get(len(names), STANDARD)]
    given = [re.sub(r"\d", "", name).capitalize() for name in names]
    return given != usual[::-1] and given == usual


def _tuning(names: Sequence[str]) -> tuple[str, ...]:
    """Open strings, low to high: each name in the octave that lies nearest to the usual string."""
    usual = TUNINGS[len(names)][::-1]
    found = []
    for name, standard in zip(names, usual, strict=True):
        if not name:
            found.append(standard)
            continue
        plain = name.rstrip("0123456789").capitalize()
        near = Pitch.parse(standard).midi
        octaves = [f"{plain}{octave}" for octave in range(6)]
        found.append(min(octaves, key=lambda pitch: abs(Pitch.parse(pitch).midi - near)))
    return tuple(found[::-1])


def _beats(system: PlainSystem) -> int:
    """The highest number in a system's count line."""
    numbers = [int(word) for line in system.around for word in re.findall(r"(?<!\S)\d{1,2}(?!\S)", line)]
    return min(max(numbers, default=4), 32)


def _can_be_counted(places: Sequence[Fraction], meter: Meter) -> bool:
    """Whether places go up, lie in the bar and can be said by a count row."""
    if any(after <= before for before, after in pairwise(places)):
        return False
    try:
        write_counts(frozenset(places), meter)
    except ValueError:
        return False
    return all(0 <= place < meter.length for place in places)


def _slot_name(grid: Grid, bar: PlainBar, meter: Meter, finest: int | None) -> str:
    """How a grid was read, in words."""
    width = (bar.end - bar.begin - grid.lead) / grid.slot
    parts = min((1, 2, 3, 4, 6, 8), key=lambda division: abs(width - division * meter.counts))
    characters = "1 character is" if grid.slot == 1 else f"{grid.slot} characters are"
    uneven = ", unevenly" if grid.cost > UNEVEN else ""
    return f"{characters} 1/{meter.unit * parts} of a whole note{uneven}"
