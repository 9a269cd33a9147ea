"""What the commands that compute share: the riffs and parts they work on, and writing a part into the file."""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from trainer.arranging.choosing import choose_riffs, choose_tabs
from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import exercise_option, load
from trainer.commands.line import CallError
from trainer.commands.terminal import say
from trainer.music.exercise import Exercise
from trainer.music.part import Part, TabPart
from trainer.music.riff import Riff
from trainer.notation.edit import put_block
from trainer.notation.files import file_text, save
from trainer.notation.read import read
from trainer.notation.write import block_lines
from trainer.session.own_machine import own_file


def arranging_options(parser: argparse.ArgumentParser) -> None:
    """The options of every such command."""
    exercise_option(parser, riff=False)
    parser.add_argument("--riff", metavar="NAME", help="only this riff")
    parser.add_argument("--part", metavar="PART", help="only this part")
    parser.add_argument("--json", action="store_true", help="print the facts as JSON")


@dataclass(slots=True)
class ExerciseFile:
    """The file a command writes a part into, with the text that was computed from."""

    path: Path
    text: str

    def save(self, changed: str) -> None:
        """Write a changed text: into the file, or, for a bundled exercise, into a copy in the player's own folder.

        Raises:
            CallError: the file was changed since it was read, or there is a copy already; nothing is written.
            ProblemsError: it cannot be written.
        """
        if file_text(self.path) != self.text:
            raise CallError(f"{self.path} was changed while this was computed. Nothing is written; run it again.")
        target = own_file(self.path)
        if target != self.path:
            if target.exists():
                raise CallError(f"a bundled exercise is not changed, and you have a copy of it: name {target}.")
            target.parent.mkdir(parents=True, exist_ok=True)
        save(target, changed)
        self.path, self.text = target, changed


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a command works on."""

    written: Exercise
    """As the file has it."""
    exercise: Exercise
    """With its harmonies computed."""
    file: ExerciseFile
    riffs: tuple[Riff, ...]
    """Of `exercise`."""

    @property
    def path(self) -> Path:
        """The file's path."""
        return self.file.path

    def tabs(self, part: str | None) -> Iterator[tuple[Riff, TabPart]]:
        """Each chosen riff with each chosen part on strings. Raises ProblemsError for a part that is none."""
        for riff in self.riffs:
            if part is None or len(self.riffs) == 1 or riff.part(part) is not None:
                for tab in choose_tabs(riff, part):
                    yield riff, tab

    def save_tab(self, riff: Riff, part: TabPart) -> None:
        """Write a part of a riff into the file, and nothing else. Raises ProblemsError where it cannot be written."""
        marks = riff.tempo_marks if riff.parts[0].name == part.name else ()
        lines = block_lines(part, riff, marks)
        self.save_text(put_block(self.file.text, riff.name, "tab", part.name, lines, file=str(self.path)), riff, part)

    def save_text(self, text: str, riff: Riff, part: Part) -> None:
        """Write the file's text with one part written anew. Raises ProblemsError and CallError."""
        read(text, str(self.path))
        self.file.save(text)
        say(f"{self.path}: {part.name} of {riff.name} is written.")


def choose(arguments: argparse.Namespace) -> Chosen:
    """Read the exercise and find the riffs that are meant. Raises ProblemsError."""
    written, path = load(arguments.exercise)
    text = file_text(path)
    exercise = realise_exercise(written, str(path))
    return Chosen(written, exercise, ExerciseFile(path, text), choose_riffs(exercise, arguments.riff))
