"""The same riff somewhere else: in another key or mode, on another tuning, with a capo, on more or fewer strings.

- Another tonic moves every pitch by the interval between the tonics, by the nearest way (a tritone upward); where that
  leaves a neck, the other way round. Where neither fits, the notes that do not are told.
- Another mode moves degree by degree: each note becomes the new scale's note on the same degree, and bends reach their
  moved goals. A note outside the scale keeps its alteration, unless the new mode has it so already (the raised sixth of
  aeolian is dorian's own sixth) or the result would be another degree.
- Riffs in keys of their own move by the same interval; those in the exercise's mode take the new mode, others keep
  theirs.
- Pentatonic keys move by their seven-note parents (`scale.parent`).
- Another tuning, capo or number of strings keeps the pitches.
- Every moved part is fingered anew, near the frets it was played at; a part for which nothing changes stays as it is.
- Harmonies stay computed: they follow the moved line. Pedals and ranges move along. Chord names move by degree; where
  the mode changes only power chords keep their quality, and other names are left out.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from trainer.arranging.chain import Step, Struck, chain, part_steps, played
from trainer.arranging.fingered import FINGER_MARKS
from trainer.arranging.fingering import NoGripError, best_way
from trainer.arranging.grip import Held, Limits, Wanted, places
from trainer.arranging.riff_clock import riff_clock
from trainer.arranging.scale import Scale, parent, scale_of, spell
from trainer.music.exercise import Exercise
from trainer.music.instrument import HARMONICS, Instrument, instrument
from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.note import Moment, Note, Touch
from trainer.music.part import DrumPart, HarmonyPart, Part, PartSettings, Pedal, TabPart
from trainer.music.pitch import Name, Pitch
from trainer.music.problem import Problem, ProblemsError
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi

TUNINGS: dict[int, tuple[str, ...]] = {
    4: ("E1", "A1", "D2", "G2"),
    5: ("B0", "E1", "A1", "D2", "G2"),
    6: ("E2", "A2", "D3", "G3", "B3", "E4"),
    7: ("B1", "E2", "A2", "D3", "G3", "B3", "E4"),
    8: ("F#1", "B1", "E2", "A2", "D3", "G3", "B3", "E4"),
}
"""The usual tuning for each number of strings, low to high."""
BASS_STRINGS = 5
"""Up to so many strings make a bass."""


@dataclass(frozen=True, slots=True)
class Move:
    """Where an exercise goes; what is None stays."""

    key: Key | None = None
    tuning: tuple[str, ...] | None = None
    """Open strings, low to high; `TUNINGS` has the usual ones by number of strings."""
    capo: int | None = None
    parts: tuple[str, ...] = ()
    """The parts whose necks change; empty for all guitars (parts on more than `BASS_STRINGS` strings)."""

    def __str__(self) -> str:
        """As a title tells it: "in F# dorian, tuned D2 A2 D3 G3 B3 E4"."""
        told = [f"in {self.key}" if self.key else "", f"tuned {' '.join(self.tuning)}" if self.tuning else ""]
        told.append("" if self.capo is None else f"capo {self.capo}" if self.capo else "without capo")
        return ", ".join(word for word in told if word)


def move(exercise: Exercise, asked: Move, file: str = "") -> Exercise:
    """The exercise somewhere else, as a new exercise with an id and title of its own.

    Args:
        exercise: the exercise; harmonies may be computed or not.
        asked: where it goes.
        file: the file's name, for problems.

    Raises:
        ProblemsError: notes that no place on the neck has, each named with part, riff and bar.
    """
    ways = _ways(exercise.key, asked.key) if asked.key else (Interval(0, 0),)
    problems: list[Problem] = []
    for way in ways:
        found: list[Problem] = []
        riffs = tuple(_RiffMover(exercise, riff, asked, way, file).move(found) for riff in exercise.riffs)
        if not found:
            return _renamed(exercise, riffs, asked)
        problems = problems or found
    raise ProblemsError(problems)


def _ways(old: Key, new: Key) -> tuple[Interval, ...]:
    """The interval from one tonic to another, upward or downward, the smaller first."""
    steps = (new.tonic.step - old.tonic.step) % 7
    up = Interval.between(Pitch(old.tonic, 4), Pitch(new.tonic, 4 + (old.tonic.step + steps) // 7))
    if up.semitones < 0:
        up = Interval(up.steps + 7, up.semitones + 12)
    if up.semitones == 0:
        return (up,)
    down = Interval(up.steps - 7, up.semitones - 12)
    return (up, down) if up.semitones <= 6 else (down, up)


SHARPS_WRITTEN = 7
"""A key signature has no more sharps or flats."""


def plain_spelling(key: Key) -> Key:
    """A key as it can be written: by another name of its tonic where its own needs more than seven sharps or flats."""
    if abs(key.sharps) <= SHARPS_WRITTEN:
        return key
    names = [Name(step, alter) for step in range(7) for alter in (-1, 0, 1)]
    others = [Key(name, key.mode) for name in names if name.semitone == key.tonic.semitone]
    return min(others, key=lambda other: (abs(other.sharps), other.sharps < 0))


def respelled(way: Interval, old: Key, new: Key) -> Interval:
    """The interval between two tonics that sound so many semitones apart, by their own names."""
    start = Pitch(old.tonic, 4)
    for octave in range(1, 8):
        found = Interval.between(start, Pitch(new.tonic, octave))
        if found.semitones == way.semitones:
            return found
    return way


def move_pitch(midi: int, old: Key, new: Key, way: Interval) -> int:
    """The MIDI key that a pitch becomes: the same degree of the new key, with the same alteration."""
    pitch = spell(old, midi)
    return _degree(pitch, scale_of(old), scale_of(new), way).midi


def _degree(pitch: Pitch, old: Scale, new: Scale, way: Interval) -> Pitch:
    found = new.at(pitch.diatonic + way.steps)
    altered = Pitch(Name(found.name.step, found.name.alter + old.alteration(pitch)), found.octave)
    own = found.midi == pitch.midi + way.semitones
    taken = old.alteration(pitch) != 0 and any(altered.midi % 12 == name.semitone for name in new.names)
    return found if own or taken else altered


@dataclass(frozen=True, slots=True)
class _RiffMover:
    """Moves one riff by an interval."""

    exercise: Exercise
    riff: Riff
    asked: Move
    way: Interval
    file: str

    @property
    def key(self) -> Key:
        """The key the riff goes to."""
        own = self.riff.key
        if self.asked.key is None:
            return own
        mode = self.asked.key.mode if own.mode == self.exercise.key.mode else own.mode
        return plain_spelling(Key(self.way.above(Pitch(own.tonic, 4)).name, mode))

    def move(self, problems: list[Problem]) -> Riff:
        """The riff, moved; what does not fit is added to the problems."""
        key, asked = self.key, self.asked
        way = respelled(self.way, self.riff.key, key)
        moved: Callable[[int], int] = partial(move_pitch, old=self.riff.key, new=key, way=way)
        parts: list[Part] = []
        for part in self.riff.parts:
            if isinstance(part, HarmonyPart):
                parts.append(_move_harmony(part, asked, moved, key))
                continue
            neck = _neck(part.name, part.instrument, asked) if isinstance(part, TabPart) else None
            if isinstance(part, DrumPart) or neck is None or (key == self.riff.key and neck == part.instrument):
                parts.append(part)
                continue
            parts.append(_PartMover(self.riff, part, neck, moved, way, key, self.file).move(problems))
        tuning = asked.tuning if asked.tuning and self.riff.tuning and not asked.parts else self.riff.tuning
        return replace(self.riff, key=key, parts=tuple(parts), tuning=tuning)


def _neck(name: str, neck: Instrument, asked: Move) -> Instrument:
    chosen = name in asked.parts if asked.parts else neck.strings > BASS_STRINGS
    if not chosen:
        return neck
    tuning = instrument(asked.tuning).tuning if asked.tuning else neck.tuning
    return Instrument(tuning, neck.capo if asked.capo is None else asked.capo, neck.frets)


def _move_harmony(part: HarmonyPart, asked: Move, moved: Callable[[int], int], key: Key) -> HarmonyPart:
    def there(pitch: Pitch) -> Pitch:
        return spell(key, moved(pitch.midi))

    distance = Pedal(there(part.distance.pitch)) if isinstance(part.distance, Pedal) else part.distance
    exceptions = tuple(
        replace(item, distance=Pedal(there(item.distance.pitch))) if isinstance(item.distance, Pedal) else item
        for item in part.exceptions
    )
    return replace(
        part,
        distance=distance,
        exceptions=exceptions,
        within=part.within and (there(part.within[0]), there(part.within[1])),
        instrument=part.instrument and _neck(part.name, part.instrument, asked),
    )


@dataclass(frozen=True, slots=True)
class _PartMover:
    """Moves one part on strings to another neck or key."""

    riff: Riff
    part: TabPart
    neck: Instrument
    moved: Callable[[int], int]
    way: Interval
    key: Key
    file: str

    def move(self, problems: list[Problem]) -> TabPart:
        """The part with moved pitches, fingered anew."""
        steps = []
        for step in part_steps(self.part, self.riff, riff_clock(self.riff), keep_places=False, keep_fingers=False):
            struck = tuple(replace(note, wanted=self._wanted(note)) for note in step.struck)
            steps.append(replace(step, struck=struck))
        numbers = [bar for bar, row in enumerate(self.part.bars) for _ in played(row)]
        self._tell_outside(steps, numbers, problems)
        limits = Limits(near=self._near())
        links = chain(steps, self.neck, limits=limits)
        try:
            way = best_way(links.events, self.neck, limits=limits)
        except NoGripError as error:
            if not problems:
                bar = numbers[links.steps[error.event]]
                self._tell(problems, bar, "its notes cannot be played together on this neck")
            return self.part
        grips = dict(zip(links.steps, way.grips, strict=True))
        count = -1
        bars = []
        for row in self.part.bars:
            placed = []
            for moment in row:
                count += 1 if moment.notes or moment.rest else 0
                held = grips[count].notes if moment.notes else ()
                placed.append(self._moment(moment, held))
            bars.append(tuple(placed))
        return TabPart(self.part.name, self.neck, tuple(bars))

    def _wanted(self, note: Struck) -> Wanted:
        wanted = note.wanted
        if wanted.midi is None:
            return wanted
        midi = self.moved(wanted.midi)
        bend = self.moved(wanted.midi + wanted.bend) - midi if wanted.bend else 0
        return replace(wanted, midi=midi, bend=max(bend, 0))

    def _near(self) -> int | None:
        """The middle of the frets it was played at, moved along the neck with the pitches."""
        frets = [note.fret for row in self.part.bars for moment in row for note in moment.notes if note.fret]
        return round(sum(frets) / len(frets)) if frets else None

    def _tell_outside(self, steps: Sequence[Step], numbers: Sequence[int], problems: list[Problem]) -> None:
        for bar, step in zip(numbers, steps, strict=True):
            for wanted in (note.wanted for note in step.struck if note.wanted.midi is not None):
                if not places(wanted, self.neck):
                    midi = wanted.midi or 0
                    lack = "is nowhere on this neck"
                    lack = "is nowhere on this neck that it could be bent" if self.neck.places(midi) else lack
                    self._tell(problems, bar, f"{spell(self.key, midi)} {lack}")

    def _tell(self, problems: list[Problem], bar: int, what: str) -> None:
        where = f"{self.part.name} of {self.riff.name!r}, bar {bar + 1}"
        problems.append(Problem(self.file, 0, 0, f"{where}: {what}", "", "Choose another key, or a neck that has it"))

    def _moment(self, moment: Moment, held: tuple[Held, ...]) -> Moment:
        notes = [self._note(note, place) for note, place in zip(moment.notes, held, strict=False)]
        ordered = tuple(sorted(notes, key=lambda note: note.string))
        return replace(moment, notes=ordered, chord=move_chord(moment.chord, self.riff.key, self.key, self.way))

    def _note(self, note: Note, held: Held) -> Note:
        string, fret, _ = held
        finger = FINGER_MARKS[0]
        if note.touch is Touch.DEAD:
            return replace(note, string=string, fret=fret, finger=finger)
        start = note_midi(self.part.instrument, note)
        midi = self.moved(start)
        touch = note.touch
        if touch is Touch.HARMONIC:
            sounds = fret in HARMONICS and self.neck.harmonic_midi(string, fret) == midi
            touch = Touch.HARMONIC if sounds else Touch.FRETTED
        bend = release = None
        if note.bend is not None:
            bend = fret + max(1, self.moved(start + note.bend - note.fret) - midi)
        if note.release is not None and bend is not None:
            release = min(bend - 1, max(fret, fret + self.moved(start + note.release - note.fret) - midi))
        return replace(note, string=string, fret=fret, touch=touch, bend=bend, release=release, finger=finger)


_CHORD = re.compile(r"([A-G](?:##|#|bb|b)?)([^/]*)(?:/([A-G](?:##|#|bb|b)?))?")


def move_chord(name: str, old: Key, new: Key, way: Interval) -> str:
    """A chord name on the same degree of another key; empty where its quality would have to be guessed."""
    found = _CHORD.fullmatch(name)
    if not found or old == new:
        return name
    if parent(old).mode != parent(new).mode and found[2] != "5":
        return ""

    def there(text: str) -> Name:
        return _degree(Pitch(Name.parse(text), 4), scale_of(old), scale_of(new), way).name

    return f"{there(found[1])}{found[2]}" + (f"/{there(found[3])}" if found[3] else "")


def _renamed(exercise: Exercise, riffs: tuple[Riff, ...], asked: Move) -> Exercise:
    told = str(asked)
    slug = re.sub(r"[^a-z0-9]+", "-", told.replace("#", " sharp").casefold()).strip("-")
    found = replace(
        exercise,
        id=f"{exercise.id}-{slug}" if slug else exercise.id,
        title=f"{exercise.title} ({told})" if told else exercise.title,
        key=asked.key or exercise.key,
        riffs=riffs,
    )
    guitars = {
        part.name
        for riff in exercise.riffs
        for part in riff.parts
        if isinstance(part, TabPart) and part.instrument.strings > BASS_STRINGS
    } | {part.name for riff in exercise.riffs for part in riff.harmonies}
    chosen = asked.parts or tuple(name for name in exercise.part_names if name in guitars)
    if asked.tuning and not asked.parts:
        found = replace(found, tuning=asked.tuning)
    settings = {one.name: one for one in exercise.parts}
    for name in chosen:
        own = settings.get(name, PartSettings(name))
        tuning = asked.tuning if asked.tuning and (asked.parts or own.tuning) else own.tuning
        changed = replace(own, tuning=tuning, capo=own.capo if asked.capo is None else asked.capo)
        if changed != PartSettings(name):
            settings[name] = changed
    return replace(found, parts=tuple(settings.values()))
