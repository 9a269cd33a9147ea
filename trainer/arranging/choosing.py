"""Which riff and part a player means, and an exercise with one part written anew."""

from dataclasses import replace

from trainer.music.exercise import Exercise
from trainer.music.part import DrumPart, Part, TabPart
from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.music.riff import Riff


def choose_riffs(exercise: Exercise, name: str | None, file: str = "") -> tuple[Riff, ...]:
    """The riff of a name, or all of them.

    Raises:
        ProblemsError: no riff is called that.
    """
    if name is None:
        return exercise.riffs
    found = exercise.riff(name)
    if found is None:
        names = [riff.name for riff in exercise.riffs]
        raise ProblemsError([_unknown(file, f"{name!r} is not a riff of {exercise.title!r}", name, names)])
    return (found,)


def choose_tabs(riff: Riff, name: str | None, file: str = "") -> tuple[TabPart, ...]:
    """The part of a name, or all parts on strings; harmonies must have been computed.

    Raises:
        ProblemsError: no part is called that, or it has no pitches.
    """
    if name is None:
        return riff.tabs
    part = riff.part(name)
    names = [other.name for other in riff.parts if not isinstance(other, DrumPart)]
    if isinstance(part, DrumPart):
        what = f"{name!r} has no pitches"
        raise ProblemsError([Problem(file, 0, 0, what, ", ".join(names), "Choose a part on strings")])
    if not isinstance(part, TabPart):
        raise ProblemsError([_unknown(file, f"{name!r} is not a part of {riff.name!r}", name, names)])
    return (part,)


def _unknown(file: str, what: str, name: str, names: list[str]) -> Problem:
    meant = nearest(name, names)
    return Problem(file, 0, 0, what, ", ".join(names), f'Did you mean "{meant}"' if meant else "")


def with_part(exercise: Exercise, riff: str, part: Part) -> Exercise:
    """The exercise with a part of one riff replaced by another of its name, or added at the riff's end.

    A riff of another name is left as it is.
    """
    return replace(exercise, riffs=tuple(_with(one, part) if one.name == riff else one for one in exercise.riffs))


def _with(riff: Riff, part: Part) -> Riff:
    if riff.part(part.name) is None:
        return replace(riff, parts=(*riff.parts, part))
    return replace(riff, parts=tuple(part if one.name == part.name else one for one in riff.parts))
