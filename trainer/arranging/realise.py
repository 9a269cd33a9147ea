"""From a riff with harmonies to a riff of written parts: each harmony computed from the part it follows."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from trainer.arranging.answers import CHORD, Answers, HarmonyChange, octaves_into, phrase_starts
from trainer.arranging.clash import ChordNames, PartNotes
from trainer.arranging.grip import Limits, places
from trainer.arranging.harmony_line import harmony_line, pedal_places
from trainer.arranging.harmony_places import HarmonyBars, UnplacedError, place_bars, wanted_of
from trainer.arranging.riff_clock import riff_clock
from trainer.arranging.scale import spell
from trainer.music.exercise import Exercise
from trainer.music.instrument import Instrument
from trainer.music.note import Moment, Touch
from trainer.music.part import DrumPart, HarmonyPart, Part, TabPart
from trainer.music.pitch import Pitch
from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.music.riff import Riff
from trainer.music.sounding import sounding


@dataclass(frozen=True, slots=True)
class Realised:
    """A riff whose harmonies have been computed, and what was changed on the way."""

    riff: Riff
    changes: tuple[tuple[str, HarmonyChange], ...] = ()
    """The harmony's name and each of its notes that does not stand at the distance asked for, in order."""


def realise(riff: Riff, file: str = "") -> Riff:
    """The riff with every harmony replaced by the part it stands for, in the same order.

    Args:
        riff: the riff; one without harmonies comes back as it is.
        file: the file's name as the player gave it, for problems.

    Raises:
        ProblemsError: a harmony cannot be computed: it follows no part on strings, or one of its notes lies outside
            the neck, or its notes cannot be held together.
    """
    return realise_told(riff, file).riff


def realise_told(riff: Riff, file: str = "") -> Realised:
    """As `realise`, and what had to be changed: notes moved by octaves into a range, intervals changed for a clash."""
    if not riff.harmonies:
        return Realised(riff)
    work = _Work(riff, file, {part.name: part for part in riff.tabs})
    for part in riff.harmonies:
        _compute(work, part, ())
    if work.problems:
        raise ProblemsError(work.problems)
    played: dict[str, Part] = {**work.lines, **work.handed_over}
    parts = tuple(played.get(part.name, part) for part in riff.parts)
    return Realised(replace(riff, parts=parts), tuple(work.changes))


def harmony_problems(riff: Riff, file: str = "") -> tuple[Problem, ...]:
    """What `realise` would complain of, found without looking for fingerings: which notes no place on the neck has.

    Chords that no hand can hold are found by `realise` alone.
    """
    work = _Work(riff, file, {part.name: part for part in riff.tabs}, only_check=True)
    for part in riff.harmonies:
        _compute(work, part, ())
    return tuple(sorted(set(work.problems)))


def realise_exercise(exercise: Exercise, file: str = "") -> Exercise:
    """The exercise with every harmony of every riff replaced by the part it stands for.

    Raises:
        ProblemsError: carries the problems of all riffs.
    """
    if not any(riff.harmonies for riff in exercise.riffs):
        return exercise
    riffs = []
    problems: list[Problem] = []
    for riff in exercise.riffs:
        try:
            riffs.append(realise(riff, file))
        except ProblemsError as error:
            problems.extend(error.problems)
    if problems:
        raise ProblemsError(problems)
    return replace(exercise, riffs=tuple(riffs))


@dataclass(slots=True)
class _Work:
    """One riff while its harmonies are computed."""

    riff: Riff
    file: str
    lines: dict[str, TabPart]
    """What other harmonies follow, by name: the written parts, and each harmony once it is computed."""
    handed_over: dict[str, TabPart] = field(default_factory=dict)
    """The parts that trade bars with another, as they are played in the end."""
    changes: list[tuple[str, HarmonyChange]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    only_check: bool = False

    def tell(self, part: HarmonyPart, what: str, allowed: str = "", hint: str = "") -> None:
        """Keep a problem of one harmony; `what` continues "the harmony 'guitar 2' of 'Low road'"."""
        where = f"the harmony {part.name!r} of {self.riff.name!r}"
        self.problems.append(Problem(self.file, 0, 0, f"{where}{what}", allowed, hint))


def _compute(work: _Work, part: HarmonyPart, asking: tuple[str, ...]) -> TabPart | None:
    """One harmony, after the parts it depends on; None where a problem stands against it."""
    if part.name in work.lines:
        return work.lines[part.name]
    if part.name in asking:
        chain = " follows ".join(repr(name) for name in (*asking[asking.index(part.name) :], part.name))
        work.tell(part, f" follows itself: {chain}", "", "Let one of them be written out")
        return None
    line = _line(work, part, part.follows, "follows", asking)
    avoided = [_line(work, part, name, "avoids", asking) for name in part.avoid if name != CHORD]
    if line is None or None in avoided:
        return None
    before = len(work.problems)
    answers = Answers(
        part,
        work.riff.key,
        work.riff.bar_starts,
        tuple(PartNotes.of(other, work.riff) for other in avoided if other is not None),
        ChordNames.of(work.riff) if CHORD in part.avoid else None,
        phrase_starts(line, work.riff.key) if part.contrary else {},
    )
    answers.pedals = pedal_places(line)
    if part.avoid:
        for note in sounding(line, work.riff.bar_starts):
            place = (note.bar, note.moment.offset)
            answers.ends[place] = max(note.end, answers.ends.get(place, note.end))
    _take_exceptions(work, part, line, answers)
    bars = harmony_line(line, work.riff.key, answers.choose)
    neck = part.instrument or line.instrument
    _check(work, part, neck, bars)
    if len(work.problems) > before:
        return None
    work.changes.extend((part.name, change) for change in answers.changes)
    work.lines[part.name] = _place(work, part, line, bars, neck)
    return work.lines[part.name] if len(work.problems) == before else None


def _line(work: _Work, part: HarmonyPart, name: str, verb: str, asking: tuple[str, ...]) -> TabPart | None:
    """A part that a harmony depends on, computed if need be."""
    found = work.riff.part(name)
    if found is None or isinstance(found, DrumPart):
        others = [other for other in work.riff.parts if other.name != part.name and not isinstance(other, DrumPart)]
        names = [other.name for other in others]
        lack = "which has no pitches" if found else "which is not in this riff"
        key = {"follows": "follows", "avoids": "avoid"}[verb]
        hint = f'Write {key} = "{near}"' if (near := nearest(name, names)) else ""
        work.tell(part, f" {verb} {name!r}, {lack}", ", ".join(names), hint)
        return None
    if isinstance(found, HarmonyPart):
        return _compute(work, found, (*asking, part.name))
    return found


def _take_exceptions(work: _Work, part: HarmonyPart, line: TabPart, answers: Answers) -> None:
    if not part.exceptions:
        return
    answers.exceptions = {(item.bar - 1, item.offset): item.distance for item in part.exceptions}
    onsets = {(number, moment.offset) for number, bar in enumerate(line.bars) for moment in bar if moment.notes}
    for bar, _ in sorted(set(answers.exceptions) - onsets):
        hint = f"Give it a count at which {line.name!r} starts a note"
        work.tell(part, f" has an exception in bar {bar + 1}, where no note starts", "", hint)


def _place(work: _Work, part: HarmonyPart, line: TabPart, bars: HarmonyBars, neck: Instrument) -> TabPart:
    """The harmony on its neck, and the bars that it and its line trade."""
    if work.only_check:
        return TabPart(part.name, neck, tuple(() for _ in bars))
    near = part.near if part.near is not None or part.frets else _middle_fret(line)
    limits = Limits(frets=part.frets, near=near)
    computed = TabPart(part.name, neck, _placed(work, part, bars, neck, limits))
    led = {bar - 1 for first, last in part.leads for bar in range(first, last + 1)} & set(range(len(bars)))
    if led:
        own = harmony_line(line, work.riff.key, lambda *_: lambda pitch: pitch)
        taken = [bar if number in led else () for number, bar in enumerate(own)]
        given = [bar if number in led else () for number, bar in enumerate(bars)]
        same = neck == line.instrument
        as_line = line.bars if same else _placed(work, part, taken, neck, Limits(near=near))
        as_answer = computed.bars if same else _placed(work, part, given, line.instrument, Limits(near=near))
        work.handed_over[part.name] = _traded(computed, as_line, led)
        work.handed_over[line.name] = _traded(work.handed_over.get(line.name, line), as_answer, led)
    return computed


def _traded(part: TabPart, other: Sequence[tuple[Moment, ...]], led: set[int]) -> TabPart:
    bars = tuple(other[number] if number in led else bar for number, bar in enumerate(part.bars))
    return replace(part, bars=bars)


def _placed(
    work: _Work, part: HarmonyPart, bars: HarmonyBars, neck: Instrument, limits: Limits
) -> tuple[tuple[Moment, ...], ...]:
    try:
        return place_bars(bars, neck, work.riff.bar_starts, riff_clock(work.riff), limits)
    except UnplacedError as error:
        pitches = " ".join(str(note.pitch) for note in error.moment.notes if note.pitch is not None)
        at = f" between frets {limits.frets[0]} and {limits.frets[1]}" if limits.frets else " on this neck"
        work.tell(part, f", bar {error.bar + 1}: {pitches} cannot be played{at}")
        return tuple(() for _ in bars)


def _middle_fret(line: TabPart) -> int | None:
    """The fret around which a line is played, for an answer beside it."""
    frets = [note.fret for bar in line.bars for moment in bar for note in moment.notes if note.fret]
    return round(sum(frets) / len(frets)) if frets else None


def _check(work: _Work, part: HarmonyPart, neck: Instrument, bars: HarmonyBars) -> None:
    """Tell the notes that lie outside the neck or the range asked for."""
    lowest, highest = neck_range(neck)
    on_neck: dict[tuple[int, int, bool, bool], bool] = {}
    for number, bar in enumerate(bars, 1):
        for note in (note for moment in bar for note in moment.notes):
            if note.pitch is None:
                continue
            midi = note.pitch.midi
            told = ""
            hint = _OUTSIDE_HINT
            if part.within is not None and _in_no_octave(midi, part.within):
                told = f"in no octave between {part.within[0]} and {part.within[1]}"
                hint = "Write a range of an octave or more"
            key = (midi, note.bend or 0, note.line.vibrato, note.line.touch is Touch.HARMONIC)
            if key not in on_neck:
                on_neck[key] = bool(places(wanted_of(note), neck))
            if not on_neck[key]:
                low = f"below the neck's lowest, {spell(work.riff.key, lowest)}"
                high = f"above the neck's highest, {spell(work.riff.key, highest)}"
                told, hint = low if midi < lowest else high, _OUTSIDE_HINT
                if neck.places(midi):
                    told = "which this neck has nowhere that it could be bent or shaken"
            if told:
                what = f", bar {number}: the answer to {note.line_pitch} is {note.pitch}, {told}"
                work.tell(part, what, "", hint)


_OUTSIDE_HINT = "Ask for another interval, give this note its own with except, or move it by octaves with range"


def _in_no_octave(midi: int, within: tuple[Pitch, Pitch]) -> bool:
    low, high = (pitch.midi for pitch in within)
    return not low <= midi <= high and not octaves_into(midi, low, high)


def neck_range(neck: Instrument) -> tuple[int, int]:
    """The lowest and the highest MIDI key a neck sounds without harmonics."""
    opens = [neck.open_midi(string) for string in range(1, neck.strings + 1)]
    return min(opens), max(opens) + neck.last_fret
