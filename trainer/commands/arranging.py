"""What the commands that compute share: the riffs and parts they work on, and writing a part into the file."""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from trainer.arranging.choosing import choose_riffs, choose_tabs
from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import exercise_option, load
from trainer.commands.terminal import say
from trainer.music.exercise import Exercise
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.notation.edit import put_block
from trainer.notation.files import file_text, save
from trainer.notation.read import read
from trainer.notation.write import tab_lines


def arranging_options(parser: argparse.ArgumentParser) -> None:
    """The options of every such command."""
    exercise_option(parser, riff=False)
    parser.add_argument("--riff", metavar="NAME", help="only this riff")
    parser.add_argument("--part", metavar="PART", help="only this part")
    parser.add_argument("--json", action="store_true", help="print the facts as JSON")


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a command works on."""

    written: Exercise
    """As the file has it."""
    exercise: Exercise
    """With its harmonies computed."""
    path: Path
    riffs: tuple[Riff, ...]
    """Of `exercise`."""

    def tabs(self, part: str | None) -> Iterator[tuple[Riff, TabPart]]:
        """Each chosen riff with each chosen part on strings. Raises ProblemsError for a part that is none."""
        for riff in self.riffs:
            if part is None or len(self.riffs) == 1 or riff.part(part) is not None:
                for tab in choose_tabs(riff, part):
                    yield riff, tab

    def save_tab(self, riff: Riff, part: TabPart) -> None:
        """Write a part of a riff into the file, and nothing else. Raises ProblemsError where it cannot be written."""
        text = file_text(self.path)
        marks = riff.tempo_marks if riff.parts[0].name == part.name else ()
        changed = put_block(text, riff.name, "tab", part.name, tab_lines(part, riff, marks), file=str(self.path))
        read(changed, str(self.path))
        save(self.path, changed)
        say(f"{self.path}: {part.name} of {riff.name} is written.")


def choose(arguments: argparse.Namespace) -> Chosen:
    """Read the exercise and find the riffs that are meant. Raises ProblemsError."""
    written, path = load(arguments.exercise)
    exercise = realise_exercise(written, str(path))
    return Chosen(written, exercise, path, choose_riffs(exercise, arguments.riff))
