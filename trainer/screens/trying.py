"""What the stand tries out: another fingering of a part, another harmony of a line; each makes a draft from a draft."""

from dataclasses import replace
from typing import NamedTuple

from trainer.music.part import HarmonyPart, TabPart, parse_distance
from trainer.music.problem import Problem, ProblemsError
from trainer.screens.draft import Draft, Kind, OnDisk
from trainer.screens.fingerings import fingering_at
from trainer.screens.harmonies import AS_WRITTEN
from trainer.screens.stood import Stood
from trainer.screens.wiring import Wiring


def fresh_draft(stood: Stood, wiring: Wiring) -> Draft:
    """A draft of what is on the stand, with nothing tried yet.

    Raises:
        ProblemsError: the file cannot be read, or says other things by now.
    """
    disk = OnDisk.read(wiring.exercises.find(stood.exercise.id), wiring.rig.patch_names)
    if disk.exercise.riffs != stood.exercise.riffs:
        what = "the file has changed since it was put on the stand"
        raise ProblemsError([Problem(disk.path.name, 0, 0, what, "", "Open it again from the shelf")])
    return Draft.of(replace(disk, exercise=stood.exercise))


def another_fingering(draft: Draft, riff: str, part: str, step: int) -> tuple[Draft, str]:
    """The fingering after (or before) the one that is tried.

    Returns:
        The draft with it, and what there is to say of it.

    Raises:
        ProblemsError: a note lies nowhere on the neck, or the way cannot be written.
    """
    now = draft.change(Kind.FINGERING, riff, part)
    base = draft.without(riff, part, Kind.FINGERING)
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


class Pair(NamedTuple):
    """Who answers whom."""

    riff: str
    mine: str
    """The line."""
    other: str
    """The part that answers it."""


def filed_interval(draft: Draft, pair: Pair) -> str:
    """The interval at which the file lets the other part follow mine; empty where it does not."""
    written = draft.disk.written.riff(pair.riff)
    part = written.part(pair.other) if written else None
    return str(part.distance) if isinstance(part, HarmonyPart) and part.follows == pair.mine else ""


def with_interval(draft: Draft, pair: Pair, words: str) -> tuple[Draft, str]:
    """The other part plays my line at an interval, or what the file has.

    Returns:
        The draft with it, and what there is to say; of a harmony that cannot be played, which note is out of range.
    """
    try:
        return _with_interval(draft, pair, words)
    except ProblemsError as error:
        return draft, out_of_range(error, pair, words)


def _with_interval(draft: Draft, pair: Pair, words: str) -> tuple[Draft, str]:
    riff, mine, name = pair
    if words == AS_WRITTEN:
        return draft.without(riff, name, Kind.HARMONY, Kind.FINGERING), f"{name} is as the file has it."
    base = draft.without(riff, name, Kind.HARMONY, Kind.FINGERING)
    asked = HarmonyPart(name, mine, parse_distance(words))
    written = base.written.riff(riff)
    old = written.part(name) if written else None
    bare = not isinstance(old, HarmonyPart) or old == replace(asked, distance=old.distance, instrument=old.instrument)
    more = "" if bare else " What the file asks of it besides (range, exceptions) is left out."
    return base.with_harmony(riff, asked), f"{name}: {words} {mine}.{more}"


def out_of_range(error: ProblemsError, pair: Pair, words: str) -> str:
    """A harmony that cannot be played, in one sentence: its first problem and how many more there are."""
    first, more = error.problems[0], len(error.problems) - 1
    what = first.what.removeprefix(f"the harmony {pair.other!r} of {pair.riff!r}, ")
    rest = f", and {more} more" if more else ""
    return str(Problem("", 0, 0, f"No {words}. {what[:1].upper()}{what[1:]}{rest}"))


def tried_words(draft: Draft, riff: str) -> str:
    """What is tried in a riff (all of them for an empty name) and not yet written."""
    shown: dict[str, list[str]] = {}
    for change in draft.changes:
        if riff in ("", change.riff):
            shown.setdefault(change.part, []).append(change.words)
    return "; ".join(f"{part}: {', '.join(words)}" for part, words in shown.items())
