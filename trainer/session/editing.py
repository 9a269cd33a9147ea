"""Working out on the stand: another fingering of a part, another harmony of a line, each tried as a new draft."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

from trainer.arranging.demand_words import trouble_sentences
from trainer.arranging.fingered import Fingered, finger, fingerings
from trainer.arranging.strokes import with_strokes
from trainer.music.part import HarmonyPart, TabPart, parse_distance
from trainer.music.problem import Problem, ProblemsError
from trainer.music.riff import Riff
from trainer.session.draft import ChangeKind, Draft, OnDisk
from trainer.session.machine import Machine
from trainer.session.music import LoadedExercise

AS_WRITTEN = ""
"""Stands for the file's own part."""

INTERVALS = (
    "third above",
    "third below",
    "sixth above",
    "sixth below",
    "fourth above",
    "fourth below",
    "perfect fourth above",
    "perfect fourth below",
    "fifth above",
    "fifth below",
    "perfect fifth above",
    "perfect fifth below",
    "octave above",
    "octave below",
)
"""As the exercise file writes them; an interval without a quality moves inside the key."""

ANSWERS = ("guitar 2", "guitar 1", "guitar 3")
"""Names for a new answering part when there is no other guitar; the first free one is used."""


def next_interval(now: str, step: int, filed: str = "") -> str:
    """The next interval to try, going round: the file's own part comes between the last and the first.

    Args:
        now: one of `INTERVALS`, or `AS_WRITTEN`.
        step: 1 or -1.
        filed: the interval the file asks for, which is not offered a second time.
    """
    names = (AS_WRITTEN, *(words for words in INTERVALS if words != filed))
    at = names.index(now) if now in names else 0
    return names[(at + step) % len(names)]


def answer_name(mine: str, other: str, names: Sequence[str]) -> str:
    """The name of the part that answers mine: the other guitar, or a new part."""
    return other or next(name for name in ANSWERS if name != mine and name not in names)


def fresh_draft(loaded: LoadedExercise, machine: Machine) -> Draft:
    """Start a draft of the exercise on the stand, with no changes yet.

    Raises:
        ProblemsError: the file cannot be read, or has changed since it was put on the stand.
    """
    disk = OnDisk.read(machine.exercises.find(loaded.exercise.id), machine.rig.patch_names)
    if disk.exercise.riffs != loaded.exercise.riffs:
        what = "the file has changed since it was put on the stand"
        raise ProblemsError([Problem(disk.path.name, 0, 0, what, "", "Open it again from the shelf")])
    return Draft.of(replace(disk, exercise=loaded.exercise))


def another_fingering(draft: Draft, riff: str, part: str, step: int) -> tuple[Draft, str]:
    """Try the fingering `step` places after the current one.

    Returns:
        The new draft, and a sentence for the player.

    Raises:
        ProblemsError: a note lies off the neck, or the fingering cannot be written.
    """
    now = draft.change(ChangeKind.FINGERING, riff, part)
    base = draft.without(riff, part, ChangeKind.FINGERING)
    music = base.exercise.riff(riff)
    tab = music.part(part) if music else None
    if music is None or not isinstance(tab, TabPart):
        return draft, f"{part} has no pitches: there is nothing to finger."
    way, count = fingering_at(tab, music, (now.number if now else 0) + step)
    if way is None:
        return base, f"{part} is fingered as the file has it."
    number = f"{way.number} of {count}" if count else f"{way.number}, as it is written"
    told = " ".join((f"{part}, fingering {number}: {way.where}.", *way.troubles))
    return base.with_fingering(riff, way.part, way.number), told


class HarmonyPair(NamedTuple):
    """A line and the part that harmonises it."""

    riff: str
    mine: str
    """The line."""
    other: str
    """The part that answers it."""


def filed_interval(draft: Draft, pair: HarmonyPair) -> str:
    """The interval at which the file has the other part follow mine; empty if it does not follow."""
    written = draft.disk.written.riff(pair.riff)
    part = written.part(pair.other) if written else None
    return str(part.distance) if isinstance(part, HarmonyPart) and part.follows == pair.mine else ""


def with_interval(draft: Draft, pair: HarmonyPair, words: str) -> tuple[Draft, str]:
    """Let the other part play my line at an interval, or go back to the file's own part.

    Returns:
        The new draft, and a sentence for the player; for a harmony off the neck, which note is out of range.
    """
    try:
        return _with_interval(draft, pair, words)
    except ProblemsError as error:
        return draft, out_of_range(error, pair, words)


def _with_interval(draft: Draft, pair: HarmonyPair, words: str) -> tuple[Draft, str]:
    riff, mine, name = pair
    if words == AS_WRITTEN:
        return draft.without(riff, name, ChangeKind.HARMONY, ChangeKind.FINGERING), f"{name} is as the file has it."
    base = draft.without(riff, name, ChangeKind.HARMONY, ChangeKind.FINGERING)
    asked = HarmonyPart(name, mine, parse_distance(words))
    written = base.written.riff(riff)
    old = written.part(name) if written else None
    bare = not isinstance(old, HarmonyPart) or old == replace(asked, distance=old.distance, instrument=old.instrument)
    more = "" if bare else " What the file asks of it besides (range, exceptions) is left out."
    return base.with_harmony(riff, asked), f"{name}: {words} {mine}.{more}"


def out_of_range(error: ProblemsError, pair: HarmonyPair, words: str) -> str:
    """Say in one sentence why a harmony cannot be played: its first problem, and how many more there are."""
    first, more = error.problems[0], len(error.problems) - 1
    what = first.what.removeprefix(f"the harmony {pair.other!r} of {pair.riff!r}, ")
    rest = f", and {more} more" if more else ""
    return str(Problem("", 0, 0, f"No {words}. {what[:1].upper()}{what[1:]}{rest}"))


def tried_words(draft: Draft, riff: str) -> str:
    """List the unwritten changes to a riff, or to all riffs when the name is empty."""
    shown: dict[str, list[str]] = {}
    for change in draft.changes:
        if riff in ("", change.riff):
            shown.setdefault(change.part, []).append(change.words)
    return "; ".join(f"{part}: {', '.join(words)}" for part, words in shown.items())


# -- the fingerings of a part, one after another -------------------------------------------------------------------

MOST = 6
"""Most fingerings offered beside the one that keeps the written positions."""


@dataclass(frozen=True, slots=True)
class FingeringChoice:
    """One fingering of a part, with strings, frets, fingers and strokes."""

    number: int
    """Counted from 1; number 1 keeps the written strings and frets."""
    part: TabPart
    where: str
    """The frets and strings it uses, in words."""
    troubles: tuple[str, ...]
    """Sentences about what no hand can play in it."""


def fingering_at(part: TabPart, riff: Riff, number: int) -> tuple[FingeringChoice | None, int | None]:
    """Find one fingering by number, and how many there are.

    Args:
        part: the part as the file has it.
        riff: the riff it belongs to.
        number: 0 for the file's own, from 1 the others, -1 the last; it goes round.

    Returns:
        The fingering, None for the file's own; and how many there are, None until more than the first is worked out.

    Raises:
        ProblemsError: a note lies off the neck.
    """
    if number == 0:
        return None, None
    if number == 1:
        return kept_way(part, riff), None
    ways = (kept_way(part, riff), *other_ways(part, riff))
    at = number % (len(ways) + 1)
    return (ways[at - 1] if at else None), len(ways)


@lru_cache(maxsize=64)
def kept_way(part: TabPart, riff: Riff) -> FingeringChoice:
    """The fingering that keeps the written strings and frets."""
    return _fingering(1, finger(part, riff), riff)


@lru_cache(maxsize=64)
def other_ways(part: TabPart, riff: Riff) -> tuple[FingeringChoice, ...]:
    """The other fingerings, easiest first."""
    known = {_places(kept_way(part, riff).part)}
    found: list[FingeringChoice] = []
    for way in fingerings(part, riff, MOST, anew=True):
        if _places(way.part) not in known:
            known.add(_places(way.part))
            found.append(_fingering(len(found) + 2, way, riff))
    return tuple(found)


def _fingering(number: int, way: Fingered, riff: Riff) -> FingeringChoice:
    return FingeringChoice(
        number, with_strokes(way.part, riff), where_words(way.part), trouble_sentences(way.troubles, riff)
    )


def where_words(part: TabPart) -> str:
    """The frets and strings of a part: "frets 5 to 9 on strings 2 to 4"."""
    notes = [note for bar in part.bars for moment in bar for note in moment.notes]
    if not notes:
        return "nothing to fret"
    frets, strings = [note.fret for note in notes if note.fret], [note.string for note in notes]
    fretted = "open strings only" if not frets else f"fret{_span(frets)}"
    return f"{fretted} on string{_span(strings)}"


def _span(numbers: list[int]) -> str:
    low, high = min(numbers), max(numbers)
    return f" {low}" if low == high else f"s {low} to {high}"


def _places(part: TabPart) -> tuple[tuple[int, int, str], ...]:
    return tuple((note.string, note.fret, note.finger) for bar in part.bars for moment in bar for note in moment.notes)
