"""From a riff with harmonies to a riff of written parts: each harmony computed from the part it follows."""

from dataclasses import dataclass, field, replace
from fractions import Fraction

from trainer.arranging.harmony_line import HarmonyMoment, harmony_line
from trainer.arranging.harmony_pitch import answer
from trainer.arranging.scale import Scale, spell
from trainer.arranging.simple_places import place_moment
from trainer.music.exercise import Exercise
from trainer.music.instrument import Instrument
from trainer.music.note import Moment
from trainer.music.part import DrumPart, HarmonyPart, Part, TabPart
from trainer.music.pitch import Pitch
from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.music.riff import Riff


def realise(riff: Riff, file: str = "") -> Riff:
    """The riff with every harmony replaced by the part it stands for, in the same order.

    Args:
        riff: the riff; one without harmonies comes back as it is.
        file: the file's name as the player gave it, for problems.

    Raises:
        ProblemsError: a harmony cannot be computed: it follows no part on strings, or one of its notes lies outside
            the neck, or its notes cannot be held together.
    """
    if not riff.harmonies:
        return riff
    work = _Work(riff, file, {part.name: part for part in riff.tabs})
    parts: list[Part] = []
    for part in riff.parts:
        found = _realise_part(work, part, ()) if isinstance(part, HarmonyPart) else part
        if found is not None:
            parts.append(found)
    if work.problems:
        raise ProblemsError(work.problems)
    return replace(riff, parts=tuple(parts))


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
    done: dict[str, TabPart]
    problems: list[Problem] = field(default_factory=list)

    def tell(self, part: HarmonyPart, what: str, allowed: str = "", hint: str = "") -> None:
        """Keep a problem of one harmony; `what` continues "the harmony 'guitar 2' of 'Low road'"."""
        where = f"the harmony {part.name!r} of {self.riff.name!r}"
        self.problems.append(Problem(self.file, 0, 0, f"{where}{what}", allowed, hint))


def _realise_part(work: _Work, part: HarmonyPart, asking: tuple[str, ...]) -> TabPart | None:
    """One harmony, after the part it follows; None where a problem stands against it."""
    if part.name in work.done:
        return work.done[part.name]
    if part.name in asking:
        chain = " follows ".join(repr(name) for name in (*asking[asking.index(part.name) :], part.name))
        work.tell(part, f" follows itself: {chain}", "", "Let one of them be written out")
        return None
    followed = work.riff.part(part.follows)
    if followed is None or isinstance(followed, DrumPart):
        others = [other for other in work.riff.parts if other.name != part.name and not isinstance(other, DrumPart)]
        names = [other.name for other in others]
        lack = "which has no pitches" if followed else "which is not in this riff"
        hint = f'Write follows = "{near}"' if (near := nearest(part.follows, names)) else ""
        work.tell(part, f" follows {part.follows!r}, {lack}", ", ".join(names), hint)
        return None
    line = _realise_part(work, followed, (*asking, part.name)) if isinstance(followed, HarmonyPart) else followed
    if line is None:
        return None
    before = len(work.problems)
    computed = _compute(work, part, line)
    if len(work.problems) > before:
        return None
    work.done[part.name] = computed
    return computed


def _compute(work: _Work, part: HarmonyPart, line: TabPart) -> TabPart:
    neck = part.instrument or line.instrument
    exceptions = {(item.bar - 1, item.offset): item.distance for item in part.exceptions}
    onsets = {(number, moment.offset) for number, bar in enumerate(line.bars) for moment in bar if moment.notes}
    for bar, _ in sorted(set(exceptions) - onsets):
        hint = f"Give it a count at which {line.name!r} starts a note"
        work.tell(part, f" has an exception in bar {bar + 1}, where no note starts", "", hint)

    def answers(scale: Scale, bar: int, offset: Fraction, pitch: Pitch) -> Pitch:
        return answer(pitch, scale, exceptions.get((bar, offset), part.distance))

    bars = []
    last: dict[int, int] = {}
    for number, moments in enumerate(harmony_line(line, work.riff.key, answers)):
        placed: list[Moment] = []
        for moment in moments:
            found = place_moment(neck, moment, last, part.near)
            if found is None:
                _tell_unplaced(work, part, neck, moment, number)
                continue
            last = found[1]
            placed.append(found[0])
        bars.append(tuple(placed))
    return TabPart(part.name, neck, tuple(bars))


def _tell_unplaced(work: _Work, part: HarmonyPart, neck: Instrument, moment: HarmonyMoment, bar: int) -> None:
    """Why a moment cannot be played: its notes outside the neck, or that they cannot be held together."""
    lowest, highest = neck_range(neck)
    outside = [note for note in moment.notes if note.pitch is not None and not lowest <= note.pitch.midi <= highest]
    if not outside:
        pitches = " ".join(str(note.pitch) for note in moment.notes if note.pitch is not None)
        work.tell(part, f", bar {bar + 1}: {pitches} cannot be played together on this neck")
    for note in outside:
        low = note.pitch is not None and note.pitch.midi < lowest
        edge = f"below the neck's lowest, {spell(work.riff.key, lowest)}"
        edge = edge if low else f"above the neck's highest, {spell(work.riff.key, highest)}"
        hint = "Ask for another interval, or give this note one of its own with except"
        work.tell(part, f", bar {bar + 1}: the answer to {note.line_pitch} is {note.pitch}, {edge}", "", hint)


def neck_range(neck: Instrument) -> tuple[int, int]:
    """The lowest and the highest MIDI key a neck sounds without harmonics."""
    opens = [neck.open_midi(string) for string in range(1, neck.strings + 1)]
    return min(opens), max(opens) + neck.last_fret
