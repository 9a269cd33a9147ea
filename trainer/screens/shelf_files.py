"""What the shelf reads in the background: folders, the log, and whole files where they are in view."""

import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from trainer.notation.head import Head
    from trainer.practice.reading import ExerciseRecord
    from trainer.screens.wiring import Exercises, Wiring

AGAIN_SECONDS = 2.0
"""The folders are looked through again after so long, or later where that takes long."""
LOOK_SECONDS = 0.4
"""Files in view are read whole after so long without a key."""


class Looked(NamedTuple):
    """What a full reading of a file found."""

    head: "Head"
    """The head as it was then: a changed file has another one."""
    wrong: str
    """The first thing that is wrong; empty for a sound file."""


def records(wiring: "Wiring") -> "dict[str, ExerciseRecord]":
    """What the log says of every exercise, by id."""
    from trainer.practice import reading

    return wiring.log.ask(reading.exercises)


def heads(wiring: "Wiring") -> "tuple[tuple[Head, ...], float]":
    """The heads of all files, and the seconds that looking took."""
    begun = time.perf_counter()
    found = tuple(wiring.exercises.heads())
    return found, time.perf_counter() - begun


def checked(exercises: "Exercises", head: "Head") -> Looked:
    """Read one file whole."""
    from trainer.music.problem import ProblemsError

    try:
        exercises.read(Path(head.file))
    except ProblemsError as error:
        return Looked(head, str(error.problems[0]))
    return Looked(head, "")
