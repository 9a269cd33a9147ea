"""Files that commands write: one that is there already is replaced only when the player says so."""

import argparse
import os
from itertools import count
from pathlib import Path

from trainer.commands.line import CallError


def replace_option(parser: argparse.ArgumentParser, option: str = "--out") -> None:
    """The option that allows it."""
    parser.add_argument("--replace", action="store_true", help=f"replace {option} where it exists")


def check_free(path: Path, *, replace: bool) -> None:
    """Raise CallError where a file is there already and the player has not said that it may be replaced."""
    if not replace and os.path.lexists(path):  # Path.exists fails for a name that is too long
        raise CallError(f"{path} exists. Name another file, or add --replace.")


def free_path(path: Path, *, replace: bool) -> Path:
    """A path for a file that the player has not named: this one, or with -2, -3 … after its name where that is taken.

    >>> free_path(Path("no such folder") / "iron-causeway.wav", replace=False).name
    'iron-causeway.wav'
    """
    if replace or not os.path.lexists(path):
        return path
    numbered = (path.with_stem(f"{path.stem}-{number}") for number in count(2))
    return next(each for each in numbered if not os.path.lexists(each))
