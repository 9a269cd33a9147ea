"""`twinspur form`: a whole exercise at a glance, and what changes at the joins between its riffs."""

import argparse

from trainer.arranging.form_map import form_map, form_sentences
from trainer.arranging.plain_data import plain_data
from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import exercise_option, load
from trainer.commands.line import DONE
from trainer.commands.terminal import say, say_json


def options(parser: argparse.ArgumentParser) -> None:
    """The exercise whose form is told."""
    exercise_option(parser, riff=False)
    parser.add_argument("--json", action="store_true", help="print the facts as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Tell it."""
    written, path = load(arguments.exercise)
    found = form_map(realise_exercise(written, str(path)))
    if arguments.json:
        say_json({"form": plain_data(found), "sentences": list(form_sentences(found))})
        return DONE
    say(written.title, strong=True)
    for text in form_sentences(found):
        say(text)
    return DONE
