"""`twinspur show`: an exercise's tab in the terminal, computed lines written out."""

import argparse
import re
import textwrap
from fractions import Fraction
from shutil import get_terminal_size

from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import choose_riff, exercise_option, load
from trainer.commands.line import DONE, CallError
from trainer.commands.terminal import say
from trainer.music.exercise import Exercise
from trainer.music.part import HarmonyPart
from trainer.music.problem import nearest
from trainer.music.riff import Riff
from trainer.notation.write import number, tab_lines

USUAL_WIDTH = 80
"""Columns of what is printed where no terminal tells its width."""
NARROWEST = 40
"""Columns below which nothing is broken."""
INDENT = "  "
KEPT = re.compile(r"\s*([-*+#]\s|>|\||```|~~~|\d+[.)]\s)|\s{4}")
"""How lines begin that are no plain paragraph: lists, headings, quotations, tables, code."""


def options(parser: argparse.ArgumentParser) -> None:
    """The riff and parts to print, with or without the text around them."""
    exercise_option(parser)
    parser.add_argument("--part", metavar="PART", action="append", help="only this part; may be given several times")
    parser.add_argument("--tab-only", action="store_true", help="leave the text out")


def run(arguments: argparse.Namespace) -> int:
    """Show it."""
    exercise, path = load(arguments.exercise)
    exercise = realise_exercise(exercise, str(path))
    riffs = [choose_riff(exercise, arguments.riff)] if arguments.riff else exercise.riffs
    parts = [_part(exercise, name) for name in arguments.part or ()]
    say(exercise.title, strong=True)
    facts = [str(exercise.key), str(exercise.meter), _tempo(exercise.tempo.start, exercise.tempo.target)]
    say(", ".join(facts + ([f"by {exercise.by}"] if exercise.by else [])))
    width = max(NARROWEST, get_terminal_size((USUAL_WIDTH, 24)).columns)
    if exercise.prose and not arguments.tab_only and not arguments.riff:
        say("\n" + wrapped(exercise.prose, width))
    for riff in riffs:
        _show(riff, parts, not arguments.tab_only, width)
    if exercise.form and not arguments.riff:
        steps = [step.riff + (f" x{step.times}" if step.times > 1 else "") for step in exercise.form]
        say("\n" + textwrap.fill("Form: " + ", ".join(steps), width))
    return DONE


def _tempo(start: Fraction, target: Fraction) -> str:
    return f"{number(start)} to {number(target)} bpm" if start != target else f"{number(target)} bpm"


def _part(exercise: Exercise, name: str) -> str:
    names = exercise.part_names
    for part in names:
        if part.casefold() == " ".join(name.split()).casefold():
            return part
    meant = nearest(name, names)
    raise CallError(f'no part "{name}". ' + (f'Did you mean "{meant}"?' if meant else f"It has: {', '.join(names)}."))


def wrapped(prose: str, width: int) -> str:
    """Prose with its paragraphs broken to a width; lists, quotations, tables and code stay as they are."""
    pieces = []
    for piece in prose.split("\n\n"):
        plain = not any(KEPT.match(line) for line in piece.split("\n"))
        pieces.append(textwrap.fill(piece, width, break_on_hyphens=False) if plain else piece)
    return "\n\n".join(pieces)


def _show(riff: Riff, parts: list[str], prose: bool, width: int) -> None:
    say("\n" + riff.name, strong=True)
    say(f"{riff.key}, {riff.meters[0]}, {_tempo(riff.tempo.start, riff.tempo.target)}")
    if riff.prose and prose:
        say("\n" + wrapped(riff.prose, width))
    for part in riff.parts:
        if isinstance(part, HarmonyPart) or (parts and part.name not in parts):
            continue
        marks = riff.tempo_marks if part is riff.parts[0] else ()
        say("\n" + part.name)
        for line in tab_lines(part, riff, marks, width - len(INDENT)):
            say(INDENT + line)
