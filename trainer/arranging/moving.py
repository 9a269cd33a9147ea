"""The same riff somewhere else: in another key or mode, on another tuning, with a capo, on more or fewer strings.

- Another tonic moves every pitch by the interval between the tonics, by the nearest way (a tritone upward); where that
  leaves a neck, the other way round. A bass goes an octave higher or lower where its own neck ends. Where neither fits,
  the notes that do not are told.
- Another mode moves degree by degree: each note becomes the new scale's note on the same degree, and bends reach their
  moved goals. A note outside the scale keeps its alteration, unless the new mode has it so already (the raised sixth of
  aeolian is dorian's own sixth) or the result would be another degree.
- Riffs in keys of their own move by the same interval; those in the exercise's mode take the new mode, others keep
  theirs.
- Pentatonic keys move by their seven-note parents (`scale.parent`).
- Another tuning, capo or number of strings keeps the pitches.
- A moved part stays on its strings where the neck has the moved notes there; else it is fingered anew, near the frets
  it was played at. A study on one string stays on one string where any way there fits. Dead notes keep their string.
- A slur (hammer-on, pull-off, slide, tap) stays on its string or is picked; it takes the direction of its moved notes.
- A natural harmonic that the new tuning has nowhere stays the harmonic it was, at another pitch.
- Retuning (`Move.down`, or `keep_frets` with a tuning) is the other thing: all strings and frets stay, and what sounds
  moves with the strings, the bass's too.
- Harmonies stay computed: they follow the moved line. Pedals and ranges move along, and a range of frets is dropped
  where the harmony no longer fits into it. Chord names move by degree; where
  the mode changes only power chords keep their quality, and other names are left out.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from trainer.arranging.chain import StruckMoment, StruckNote, chain, part_steps, played, without_fingers
from trainer.arranging.fingered import FINGER_MARKS, finger
from trainer.arranging.fingering import NoGripError, best_fingering
from trainer.arranging.grip import HeldPlace, Limits, WantedNote, places
from trainer.arranging.hand import is_bass
from trainer.arranging.realise import realise
from trainer.arranging.riff_clock import riff_clock
from trainer.arranging.scale import Scale, parent, scale_of, spell
from trainer.music.exercise import Exercise
from trainer.music.instrument import HARMONICS, Instrument, instrument
from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.note import Attack, Moment, Note, Touch
from trainer.music.part import DrumPart, HarmonyPart, Part, PartSettings, PedalNote, TabPart
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
STUDY_NOTES, STUDY_FRETS = 8, 4
"""So many notes on so many frets of one string make a study on that string. House rule."""
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
    down: int = 0
    """Semitones by which the whole band, the bass included, tunes down; strings and frets stay."""
    keep_frets: bool = False
    """With a tuning: strings and frets stay, and the pitches move with the strings."""

    def __str__(self) -> str:
        """As a title tells it: "in F# dorian, tuned D2 A2 D3 G3 B3 E4"."""
        told = [f"in {self.key}" if self.key else "", f"tuned {' '.join(self.tuning)}" if self.tuning else ""]
        told.append("" if not self.down else f"tuned down {_STEPS.get(self.down, f'{self.down} semitones')}")
        told.append("" if self.capo is None else f"capo {self.capo}" if self.capo else "without capo")
        return ", ".join(word for word in told if word)


_STEPS = {1: "half a step", 2: "a whole step"}


def move(exercise: Exercise, asked: Move, file: str = "") -> Exercise:
    """The exercise somewhere else, as a new exercise with an id and title of its own.

    Args:
        exercise: the exercise; harmonies may be computed or not.
        asked: where it goes.
        file: the file's name, for problems.

    Raises:
        ProblemsError: notes that no place on the neck has, each named with part, riff and bar.
    """
    if asked.down or asked.keep_frets:
        return _retuned(exercise, asked, file)
    ways = _ways(exercise.key, asked.key) if asked.key else (Interval(0, 0),)
    problems: list[Problem] = []
    for strict in (True, False):  # first with studies on one string kept there
        for way in ways:
            found: list[Problem] = []
            movers = [_RiffMover(exercise, riff, asked, way, file, strict) for riff in exercise.riffs]
            riffs = tuple(_playable(mover.move(found), file) for mover in movers)
            if not found:
                return _renamed(exercise, riffs, asked)
            problems = problems or found
    raise ProblemsError(problems)


def _playable(riff: Riff, file: str) -> Riff:
    """The riff, its harmonies without a range of frets that they no longer fit into."""
    if not any(part.frets for part in riff.harmonies):
        return riff
    try:
        realise(riff, file)
    except ProblemsError:
        free = tuple(replace(part, frets=None) if isinstance(part, HarmonyPart) else part for part in riff.parts)
        return replace(riff, parts=free)
    return riff


def _retuned(exercise: Exercise, asked: Move, file: str) -> Exercise:
    """The exercise with its strings tuned otherwise and every fret as it is written.

    Raises:
        ProblemsError: a tuning has another number of strings than the part it is for.
    """
    way, goal = Interval(0, 0), exercise.key
    if asked.down:
        goal = _usual_key((exercise.key.tonic.semitone - asked.down) % 12, exercise.key.mode)
        way = respelled(Interval(0, -asked.down), exercise.key, goal)
    problems: list[Problem] = []

    def tuned(name: str, neck: Instrument) -> Instrument:
        if asked.down:
            return Instrument(tuple(_lowered(pitch, asked.down) for pitch in neck.tuning), neck.capo, neck.frets)
        found = _neck(name, neck, asked)
        if found.strings != neck.strings:
            what = f"{name} has {neck.strings} strings, and the tuning has {found.strings}"
            problems.append(Problem(file, 0, 0, what, "", "Give as many strings, or leave out --keep-frets"))
        return found

    riffs = []
    for riff in exercise.riffs:
        key = _usual_key((riff.key.tonic.semitone - asked.down) % 12, riff.key.mode) if asked.down else riff.key
        own_way = respelled(way, riff.key, key)
        moved = partial(move_pitch, old=riff.key, new=key, way=own_way)
        parts: list[Part] = []
        for part in riff.parts:
            if isinstance(part, TabPart):
                bars = tuple(
                    tuple(replace(m, chord=move_chord(m.chord, riff.key, key, own_way)) for m in bar)
                    for bar in part.bars
                )
                parts.append(TabPart(part.name, tuned(part.name, part.instrument), bars))
            elif isinstance(part, HarmonyPart):
                neck = part.instrument and tuned(part.name, part.instrument)
                parts.append(replace(_move_harmony(part, Move(), moved, key), instrument=neck))
            else:
                parts.append(part)
        own = tuple(str(pitch) for pitch in tuned("", instrument(riff.tuning)).tuning) if riff.tuning else ()
        riffs.append(replace(riff, key=key, parts=tuple(parts), tuning=own))
    if problems:
        raise ProblemsError(list(dict.fromkeys(problems)))
    if not asked.down:
        return _renamed(exercise, tuple(riffs), asked)
    found = replace(_renamed(exercise, tuple(riffs), asked), key=goal)
    settings = {one.name: one for one in found.parts}
    for part in (part for riff in exercise.riffs for part in riff.parts if not isinstance(part, DrumPart)):
        own_settings = settings.get(part.name)
        neck = part.instrument
        if neck is not None and (is_bass(neck) or (own_settings is not None and own_settings.tuning)):
            tuning = tuple(str(_lowered(pitch, asked.down)) for pitch in neck.tuning)
            settings[part.name] = replace(own_settings or PartSettings(part.name), tuning=tuning)
    lowered = tuple(str(_lowered(Pitch.parse(name), asked.down)) for name in exercise.tuning)
    return replace(found, tuning=lowered, parts=tuple(settings.values()))


def _lowered(pitch: Pitch, semitones: int) -> Pitch:
    """A string tuned down, by its usual name: Eb2, not D#2."""
    return _FLAT_KEY.spell(pitch.midi - semitones)


_FLAT_KEY = Key(Name.parse("Eb"), "ionian")


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


def _usual_key(semitone: int, mode: str) -> Key:
    """The key on a tonic (0 to 11) with the fewest sharps or flats; flats where there are as many."""
    keys = [Key(Name(step, alter), mode) for step in range(7) for alter in (-1, 0, 1)]
    return min(
        (key for key in keys if key.tonic.semitone == semitone), key=lambda key: (abs(key.sharps), key.sharps > 0)
    )


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
    strict: bool
    """A study on one string must stay on one."""

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
            fitting = _octave_that_fits(part, neck, moved) if is_bass(neck) else moved
            parts.append(_PartMover(self.riff, part, neck, fitting, way, key, self.file, self.strict).move(problems))
        tuning = asked.tuning if asked.tuning and self.riff.tuning and not asked.parts else self.riff.tuning
        return replace(self.riff, key=key, parts=tuple(parts), tuning=tuning)


def _octave_that_fits(part: TabPart, neck: Instrument, moved: Callable[[int], int]) -> Callable[[int], int]:
    """Where a bass goes: with the guitars, or an octave from there where its neck ends."""
    notes = [note for bar in part.bars for moment in bar for note in moment.notes if note.touch is not Touch.DEAD]
    goals = [moved(note_midi(part.instrument, note)) for note in notes] or [neck.open_midi(neck.strings)]
    low, high = neck.open_midi(neck.strings), neck.midi(1, neck.last_fret)
    octave = 12 if min(goals) < low else -12 if max(goals) > high else 0
    return (lambda midi: moved(midi) + octave) if octave else moved


def _neck(name: str, neck: Instrument, asked: Move) -> Instrument:
    chosen = name in asked.parts if asked.parts else neck.strings > BASS_STRINGS
    if not chosen:
        return neck
    tuning = instrument(asked.tuning).tuning if asked.tuning else neck.tuning
    return Instrument(tuning, neck.capo if asked.capo is None else asked.capo, neck.frets)


def _move_harmony(part: HarmonyPart, asked: Move, moved: Callable[[int], int], key: Key) -> HarmonyPart:
    def there(pitch: Pitch) -> Pitch:
        return spell(key, moved(pitch.midi))

    distance = PedalNote(there(part.distance.pitch)) if isinstance(part.distance, PedalNote) else part.distance
    exceptions = tuple(
        replace(item, distance=PedalNote(there(item.distance.pitch))) if isinstance(item.distance, PedalNote) else item
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
    strict: bool

    def move(self, problems: list[Problem]) -> TabPart:
        """The part with moved pitches: on its strings where they have them, else fingered anew."""
        kept = self._on_its_strings()
        if kept is not None:
            found = self._slurred(kept)
            if _slurs(found) >= _slurs(self.part):
                return found
            problems = []  # it can be played as it is; elsewhere it may keep more slurs
            return max(found, self._slurred(self._anew(problems)), key=lambda part: 0 if problems else _slurs(part))
        return self._slurred(self._anew(problems))

    def _on_its_strings(self) -> TabPart | None:
        """The part with every note on the string it is on; None where one leaves the neck, or a hand's reach."""
        bars = []
        for row in self.part.bars:
            moments = []
            for moment in row:
                held = [self._same_string(note) for note in moment.notes]
                if None in held:
                    return None
                moments.append(self._moment(moment, tuple(place for place in held if place is not None)))
            bars.append(tuple(moments))
        found = TabPart(self.part.name, self.neck, tuple(bars))
        shifts = {
            two.fret - one.fret
            for old, new in zip(self.part.bars, found.bars, strict=True)
            for a, b in zip(old, new, strict=True)
            for one, two in zip(a.notes, b.notes, strict=True)
            if one.touch is Touch.FRETTED
        }
        if len(shifts) > 1:  # other distances between the frets: it must still be within reach
            before, after = finger(without_fingers(self.part), self.riff), finger(without_fingers(found), self.riff)
            if len(after.troubles) > len(before.troubles):
                return None
        return found

    def _same_string(self, note: Note) -> HeldPlace | None:
        if note.string > self.neck.strings:
            return None
        if note.touch is Touch.DEAD:
            return (note.string, 0, 0)
        midi = self.moved(note_midi(self.part.instrument, note))
        if note.touch is Touch.HARMONIC:
            sounds = self.neck.harmonic_midi(note.string, note.fret) == midi
            return (note.string, note.fret, 0) if sounds or self._kept_harmonic(note) else None
        fret = midi - self.neck.open_midi(note.string)
        rise = 0 if note.bend is None else note.bend - note.fret
        lowest = 1 if note.bend is not None or note.vibrato else 0
        return (note.string, fret, 0) if lowest <= fret <= self.neck.last_fret - rise else None

    def _kept_harmonic(self, note: Note) -> bool:
        """Whether a harmonic stays where it is, because only the tuning changes and nothing else sounds its pitch."""
        if self.key != self.riff.key or note.string > self.neck.strings:
            return False
        midi = note_midi(self.part.instrument, note)
        strings = range(1, self.neck.strings + 1)
        return not any(self.neck.harmonic_midi(s, fret) == midi for s in strings for fret in HARMONICS)

    def _slurred(self, part: TabPart) -> TabPart:
        """The part with every slur in the direction of its notes, and picked where it left its string."""
        frets: dict[int, int] = {}
        bars = []
        for row in part.bars:
            moments = []
            for moment in row:
                notes = tuple(replace(note, attack=_slur(note, frets.get(note.string))) for note in moment.notes)
                moments.append(replace(moment, notes=notes))
                frets |= {note.string: note.fret for note in notes if note.touch is Touch.FRETTED}
            bars.append(tuple(moments))
        return replace(part, bars=tuple(bars))

    def _anew(self, problems: list[Problem]) -> TabPart:
        steps = []
        for step in part_steps(self.part, self.riff, riff_clock(self.riff), keep_places=False, keep_fingers=False):
            struck = tuple(replace(note, wanted=self._wanted(note)) for note in step.struck)
            steps.append(replace(step, struck=struck))
        numbers = [bar for bar, row in enumerate(self.part.bars) for _ in played(row)]
        self._tell_outside(steps, numbers, problems)
        notes = [note for row in self.part.bars for moment in row for note in moment.notes]
        strings = {note.string for note in notes}
        study = len(strings) == 1 and len(notes) >= STUDY_NOTES and len({note.fret for note in notes}) >= STUDY_FRETS
        only = (min(strings), max(strings)) if study and self.strict else None
        limits = Limits(strings=only, near=self._near())
        links = chain(steps, self.neck, limits=limits)
        try:
            way = best_fingering(links.events, self.neck, limits=limits)
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

    def _wanted(self, note: StruckNote) -> WantedNote:
        wanted = note.wanted
        if wanted.midi is None:
            place = (note.voice, 0) if note.voice <= self.neck.strings else None
            return replace(wanted, place=place)
        midi = self.moved(wanted.midi)
        bend = self.moved(wanted.midi + wanted.bend) - midi if wanted.bend else 0
        return replace(wanted, midi=midi, bend=max(bend, 0))

    def _near(self) -> int | None:
        """The middle of the frets it was played at, moved along the neck with the pitches."""
        frets = [note.fret for row in self.part.bars for moment in row for note in moment.notes if note.fret]
        return round(sum(frets) / len(frets)) if frets else None

    def _tell_outside(self, steps: Sequence[StruckMoment], numbers: Sequence[int], problems: list[Problem]) -> None:
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

    def _moment(self, moment: Moment, held: tuple[HeldPlace, ...]) -> Moment:
        notes = [self._note(note, place) for note, place in zip(moment.notes, held, strict=False)]
        ordered = tuple(sorted(notes, key=lambda note: note.string))
        return replace(moment, notes=ordered, chord=move_chord(moment.chord, self.riff.key, self.key, self.way))

    def _note(self, note: Note, held: HeldPlace) -> Note:
        string, fret, _ = held
        finger = FINGER_MARKS[0]
        if note.touch is Touch.DEAD:
            return replace(note, string=string, fret=fret, finger=finger)
        start = note_midi(self.part.instrument, note)
        midi = self.moved(start)
        touch = note.touch
        if touch is Touch.HARMONIC:
            sounds = fret in HARMONICS and self.neck.harmonic_midi(string, fret) == midi
            stays = (string, fret) == (note.string, note.fret) and self._kept_harmonic(note)
            touch = Touch.HARMONIC if sounds or stays else Touch.FRETTED
        bend = release = None
        if note.bend is not None:
            bend = fret + max(1, self.moved(start + note.bend - note.fret) - midi)
        if note.release is not None and bend is not None:
            release = min(bend - 1, max(fret, fret + self.moved(start + note.release - note.fret) - midi))
        return replace(note, string=string, fret=fret, touch=touch, bend=bend, release=release, finger=finger)


def _slurs(part: TabPart) -> int:
    return sum(note.attack is not Attack.PICK for bar in part.bars for moment in bar for note in moment.notes)


def _slur(note: Note, before: int | None) -> Attack:
    """How a note is started after another fret of its string; picked where there is none, or the same one."""
    if note.attack not in _DIRECTIONS:
        return note.attack
    if before is None or before == note.fret:
        return Attack.PICK
    down, up = _DIRECTIONS[note.attack]
    if note.attack in (Attack.SLIDE_UP, Attack.SLIDE_DOWN) and 0 in (before, note.fret):
        return Attack.PICK
    return up if note.fret > before else down


_DIRECTIONS = {
    Attack.HAMMER: (Attack.PULL, Attack.HAMMER),
    Attack.PULL: (Attack.PULL, Attack.HAMMER),
    Attack.SLIDE_UP: (Attack.SLIDE_DOWN, Attack.SLIDE_UP),
    Attack.SLIDE_DOWN: (Attack.SLIDE_DOWN, Attack.SLIDE_UP),
}
"""For each slur how it falls and how it rises."""


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


_MOVED_TITLE = re.compile(r" \((?:in [A-G](?:#|b)* |tuned |capo \d|without capo)[^()]*\)$")
_MOVED_ID = re.compile(r"-(?:in-[a-g](?:-sharp|b)?-|tuned-|capo-\d|without-capo).*$")
_NO_ID = re.compile(r"[^a-z0-9-]+")
"""What cannot stand in an id, but may in the name of a file that gives none."""
_ABOUT_PLACES = re.compile(r"\b(?:frets?|strings?|positions?|open [A-G])\b", re.IGNORECASE)
MOVED_NOTE = "*Moved from the original: what this text says of frets, strings and positions may no longer be true.*"


def _marked(prose: str) -> str:
    """A lesson's text, marked where it tells of places on the neck."""
    if not _ABOUT_PLACES.search(prose) or MOVED_NOTE in prose:
        return prose
    return f"{prose.rstrip()}\n\n{MOVED_NOTE}"


def _renamed(exercise: Exercise, riffs: tuple[Riff, ...], asked: Move) -> Exercise:
    told = str(asked)
    exercise = replace(
        exercise,
        title=_MOVED_TITLE.sub("", exercise.title),
        id=_MOVED_ID.sub("", _NO_ID.sub("-", exercise.id.casefold()).strip("-")) or "exercise",
        prose=_marked(exercise.prose),
    )
    riffs = tuple(replace(riff, prose=_marked(riff.prose)) for riff in riffs)
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
