"""`twinspur tidy`: line up the tabs of exercise files."""

import argparse
import sys

from trainer.commands.arranging import ExerciseFile
from trainer.commands.exercises import NO_EXERCISE, library, passed_over
from trainer.commands.line import DONE, FILE_WRONG
from trainer.commands.terminal import say
from trainer.notation.files import file_text
from trainer.notation.tidy import tidy


def options(parser: argparse.ArgumentParser) -> None:
    """The files to line up, or only to look at."""
    parser.add_argument("exercises", metavar="EXERCISE", nargs="+", help="ids or paths; - reads standard input")
    parser.add_argument("--check", action="store_true", help="change nothing; exit with 1 where something would change")


def run(arguments: argparse.Namespace) -> int:
    """Tidy the files; one that cannot be read is left as it is."""
    shelf = library()
    changed = 0
    for name in arguments.exercises:
        if name == "-":
            sys.stdout.write(tidy(sys.stdin.read(), "standard input"))
            continue
        path = shelf.find(name)
        if passed_over(path):
            say(NO_EXERCISE.format(path))
            continue
        text = file_text(path)
        tidied = tidy(text, str(path))
        if tidied != text:
            changed += 1
            file = ExerciseFile(path, text)
            if not arguments.check:
                file.save(tidied)
            say(f"{file.path}: {'would change' if arguments.check else 'tidied'}")
    return FILE_WRONG if arguments.check and changed else DONE
