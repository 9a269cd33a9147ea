"""`twinspur check`: what is wrong in exercise files."""

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from trainer.commands.exercises import NO_EXERCISE, library, passed_over
from trainer.commands.line import DONE, FILE_WRONG, CallError
from trainer.commands.own_machine import machine
from trainer.commands.terminal import complain, say, say_json
from trainer.music.problem import Problem, ProblemsError
from trainer.notation.files import read_file

WATCH_SECONDS = 0.25
"""Between two looks at the files that are watched."""


def options(parser: argparse.ArgumentParser) -> None:
    """Which files to check, and whether to go on checking at each save."""
    parser.add_argument("exercises", metavar="EXERCISE", nargs="*", help="ids or paths; without any, all exercises")
    parser.add_argument("--watch", action="store_true", help="go on, and check a file again at each save, until Ctrl-C")
    parser.add_argument("--json", action="store_true", help="print a list of files and their problems as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Check the files."""
    shelf = library()
    patches = machine().rig.patch_names
    if arguments.watch:
        return _watch([shelf.find(name) for name in arguments.exercises], patches, arguments.json)
    names = arguments.exercises or [head.file for head in shelf.heads()]
    results: list[tuple[str, tuple[Problem, ...]]] = []
    for name in names:
        try:
            path = shelf.find(name)
            if passed_over(path):
                if not arguments.json:
                    say(NO_EXERCISE.format(path))
                continue
            results.append((str(path), _problems(path, patches)))
        except ProblemsError as error:
            results.append((name, error.problems))
    wrong = [problem for _, problems in results for problem in problems]
    if arguments.json:
        say_json([{"file": file, "problems": [asdict(p) for p in problems]} for file, problems in results])
    else:
        for problem in wrong:
            complain(str(problem))
        sound = sum(not problems for _, problems in results)
        noun = "exercise" if len(results) == 1 else "exercises"
        say(
            f"{sound} of {len(results)} {noun} read without a problem."
            if wrong
            else f"{sound} {noun} read, no problem."
        )
    return FILE_WRONG if wrong else DONE


def _watch(paths: Sequence[Path], patches: tuple[str, ...], as_json: bool) -> int:
    """Check files now and after every save, until the player ends it."""
    if not paths or as_json:
        raise CallError("--watch needs the files to watch, and prints no JSON.")
    say("Watching. Ctrl-C ends it.")
    seen: dict[Path, object] = {}
    while True:
        for path in paths:
            try:
                found = path.stat()
                stamp: object = (found.st_mtime_ns, found.st_size, found.st_ino)
            except OSError:
                stamp = None
            if path not in seen or seen[path] != stamp:
                seen[path] = stamp
                problems = _problems(path, patches)
                for problem in problems:
                    say(str(problem))
                if not problems:
                    say(f"{path}: no problem.")
        sys.stdout.flush()
        time.sleep(WATCH_SECONDS)


def _problems(path: Path, patches: tuple[str, ...]) -> tuple[Problem, ...]:
    try:
        exercise = read_file(path, patches)
    except ProblemsError as error:
        return error.problems
    if not any(riff.harmonies for riff in exercise.riffs):
        return ()
    from trainer.arranging.realise import harmony_problems  # a file without harmonies need not wait for it

    return tuple(problem for riff in exercise.riffs for problem in harmony_problems(riff, str(path)))
