"""What every command that takes an exercise shares: its option, and how the file is found and read."""

import argparse
from pathlib import Path

from trainer.commands.line import CallError
from trainer.commands.own_machine import machine
from trainer.music.exercise import Exercise
from trainer.music.problem import nearest
from trainer.music.riff import Riff
from trainer.notation.files import read_file
from trainer.session.machine import Exercises


def library() -> Exercises:
    """The player's exercises."""
    return machine().exercises


def exercise_option(parser: argparse.ArgumentParser, riff: bool = True) -> None:
    """The exercise a command works on, and the riff in it."""
    parser.add_argument(
        "exercise", metavar="EXERCISE", help="an exercise's id (see twinspur list) or the path of a file"
    )
    if riff:
        parser.add_argument(
            "--riff", metavar="NAME", help="only this riff; without it the form, or every riff in order"
        )


def load(name: str) -> tuple[Exercise, Path]:
    """The exercise named by id or path, its patches checked, and its file.

    Raises:
        ProblemsError: for what cannot be found or read.
    """
    path = machine().exercises.find(name)
    return read_file(path, patches=machine().rig.patch_names), path


def passed_over(path: Path) -> bool:
    """Whether a file is what its name says, a README beside exercises, and no exercise: it has no front matter.

    Raises ProblemsError where it cannot be read.
    """
    if path.name.casefold() != "readme.md":
        return False
    from trainer.notation.document import front_matter, normal_lines
    from trainer.notation.files import file_text

    return front_matter(normal_lines(file_text(path))) is None


NO_EXERCISE = "{}: no exercise, passed over."
"""What is said of such a file."""


def choose_riff(exercise: Exercise, name: str) -> Riff:
    """The riff of that name, in any case of letters. Raises CallError, with the nearest name."""
    names = [riff.name for riff in exercise.riffs]
    for riff in exercise.riffs:
        if riff.name.casefold() == " ".join(name.split()).casefold():
            return riff
    meant = nearest(name, names)
    hint = f'Did you mean "{meant}"?' if meant else f"It has: {', '.join(names)}."
    raise CallError(f'no riff "{name}" in {exercise.title}. {hint}')
