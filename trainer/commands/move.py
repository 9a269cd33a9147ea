"""`twinspur move`: the same exercise in another key, on another tuning, with a capo, as a new file."""

import argparse
from dataclasses import replace
from pathlib import Path

from trainer.arranging.moving import TUNINGS, Move, move
from trainer.commands.arranging import choose
from trainer.commands.exercises import exercise_option
from trainer.commands.line import DONE, CallError
from trainer.commands.replacing import check_free, replace_option
from trainer.commands.terminal import say, say_json
from trainer.music.key import MODES, Key
from trainer.music.pitch import Pitch
from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.notation.files import save
from trainer.notation.read import read
from trainer.notation.write import write

DOWN = {"half": 1, "whole": 2}
"""Semitones of the steps that a band tunes down."""


def options(parser: argparse.ArgumentParser) -> None:
    """What is moved, to which key, tuning or capo, and the file it goes to."""
    exercise_option(parser, riff=False)
    parser.add_argument("--riff", metavar="NAME", help="only this riff")
    parser.add_argument("--part", metavar="PART", action="append", help="the part whose neck changes (every guitar)")
    parser.add_argument("--key", metavar="KEY", help='such as "F# aeolian"; another mode moves degree by degree')
    parser.add_argument("--tuning", metavar="STRINGS", help='open strings, low to high, such as "D2 A2 D3 G3 B3 E4"')
    parser.add_argument(
        "--strings", metavar="N", type=int, help=f"the usual tuning of so many strings: {', '.join(map(str, TUNINGS))}"
    )
    parser.add_argument("--keep-frets", action="store_true", help="with --tuning: frets stay, pitches move")
    parser.add_argument(
        "--down",
        metavar="STEPS",
        choices=sorted(DOWN),
        help="tune the whole band down, half or whole a step; frets stay",
    )
    parser.add_argument("--capo", metavar="FRET", type=int, help="the fret of the capo; 0 takes it off")
    parser.add_argument("--out", metavar="FILE", type=Path, help="the new file; without it the text is printed")
    replace_option(parser)
    parser.add_argument("--json", action="store_true", help="print what was made as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Write the moved exercise."""
    chosen = choose(arguments)
    asked = Move(
        _key(arguments.key),
        _tuning(arguments),
        _capo(arguments.capo),
        tuple(arguments.part or ()),
        DOWN.get(arguments.down, 0),
        arguments.keep_frets,
    )
    if asked == Move(parts=asked.parts, keep_frets=asked.keep_frets):
        raise CallError("say where it goes: --key, --tuning, --strings, --capo or --down.")
    if asked.down and asked != Move(down=asked.down):
        raise CallError("--down tunes the whole band down and goes with nothing else.")
    if asked.keep_frets and (asked.key or not asked.tuning):
        raise CallError("--keep-frets goes with --tuning or --strings, and without --key.")
    for part in asked.parts:
        list(chosen.tabs(part))
    exercise = chosen.written
    if arguments.riff:
        names = {riff.name for riff in chosen.riffs}
        riffs = tuple(riff for riff in exercise.riffs if riff.name in names)
        exercise = replace(exercise, riffs=riffs, form=(), key=riffs[0].key)
    moved = move(exercise, asked, str(chosen.path))
    try:
        text = write(moved)
    except ValueError as error:
        raise ProblemsError([Problem(str(chosen.path), 0, 0, f"it cannot be written down: {error}")]) from None
    read(text, str(arguments.out or chosen.path))
    if arguments.out:
        check_free(arguments.out, replace=arguments.replace)
        save(arguments.out, text)
    if arguments.json:
        say_json(
            {
                "id": moved.id,
                "title": moved.title,
                "key": str(moved.key),
                "file": str(arguments.out or ""),
                "text": text,
            }
        )
    elif arguments.out:
        say(f"{arguments.out}: {moved.title}.")
    else:
        say(text.rstrip("\n"))
    return DONE


def _key(text: str | None) -> Key | None:
    if text is None:
        return None
    try:
        return Key.parse(text)
    except ValueError:
        meant = nearest(text, [f"{text.partition(' ')[0]} {mode}" for mode in MODES])
        hint = f'Did you mean "{meant}"?' if meant else f"A note and one of: {', '.join(MODES)}."
        raise CallError(f'--key cannot be "{text}". {hint}') from None


def _tuning(arguments: argparse.Namespace) -> tuple[str, ...] | None:
    if arguments.tuning and arguments.strings is not None:
        raise CallError("give --tuning or --strings, not both.")
    if arguments.strings is not None:
        if arguments.strings not in TUNINGS:
            raise CallError(f"--strings cannot be {arguments.strings}: {', '.join(map(str, TUNINGS))}.")
        return TUNINGS[arguments.strings]
    if not arguments.tuning:
        return None
    try:
        return tuple(str(Pitch.parse(name)) for name in arguments.tuning.split())
    except ValueError as error:
        raise CallError(
            f'--tuning: "{error}" is not a pitch. Open strings, low to high: "E2 A2 D3 G3 B3 E4".'
        ) from None


def _capo(fret: int | None) -> int | None:
    if fret is not None and not 0 <= fret <= 12:
        raise CallError(f"--capo cannot be {fret}: 0 to 12.")
    return fret
