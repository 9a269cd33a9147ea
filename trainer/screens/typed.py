"""What a player types into a prompt, read and checked: paths, goals, minutes.

Everything here raises ValueError with a plain sentence for what cannot be used; `trouble` turns that into the text that
a prompt shows.
"""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from stat import S_ISDIR

from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.practice.plan import MOST_MINUTES

LEAST_MINUTES = 5
RECORD_ENDINGS = (".json", ".csv")
"""How the file of an exported record may end."""


def trouble(read: Callable[[str], object]) -> Callable[[str], str]:
    """A check for a prompt: the sentence that `read` raises for a text; empty when the text can be used."""

    def check(text: str) -> str:
        try:
            read(text)
        except ValueError as error:
            return str(error)
        return ""

    return check


def typed_path(text: str) -> Path:
    """A whole path, from / or from ~ on."""
    try:
        path = Path(text.strip()).expanduser()
    except RuntimeError:
        raise ValueError("Nobody of that name has a home folder here. Name the whole path, from / on.") from None
    if not path.is_absolute() or "\0" in text:
        raise ValueError("Name the whole path, from / or from ~ on.")
    return path


def typed_folder(text: str) -> Path:
    """A folder that exists."""
    if not text.strip():
        raise ValueError("Name a folder, or go back with escape.")
    path = typed_path(text)
    if not _is_folder(path):
        raise ValueError("There is no such folder. Name one that exists.")
    return path


def record_file(text: str) -> Path:
    """A file to export the record to: in a folder that exists, ending in .json or .csv."""
    path = typed_path(text)
    if path.suffix.casefold() not in RECORD_ENDINGS:
        raise ValueError("The name must end in .json (everything) or .csv (the passes).")
    if _is_folder(path):
        raise ValueError("This is a folder. Name a file in it.")
    if not _is_folder(path.parent):
        raise ValueError("There is no such folder. Name one that exists.")
    return path


def take_file(text: str, ending: str) -> Path:
    """A folder that exists, or a new file in one, to copy a take to; the file ends in `ending`."""
    path = typed_path(text)
    if _is_folder(path):
        return path
    if path.suffix.casefold() != ending:
        raise ValueError(f"The name must end in {ending}, or be a folder.")
    if path.exists():
        raise ValueError("This file exists already. Choose another name.")
    if not _is_folder(path.parent):
        raise ValueError("There is no such folder. Name one that exists.")
    return path


def _is_folder(path: Path) -> bool:
    try:
        return S_ISDIR(path.stat().st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        raise ValueError(f"This place cannot be used: {error.strerror}.") from None


def typed_goal(text: str) -> tuple[float, date | None]:
    """A target in bpm, with or without a date: "160" or "160 2031-05-01"."""
    words = text.replace(",", " ").split()
    if not words or len(words) > 2:
        raise ValueError("Type a tempo, and after it a date if you like: 160 2031-05-01.")
    try:
        target = float(words[0].removesuffix("bpm"))
    except ValueError:
        raise ValueError(f"{words[0]} is no tempo. Type one in bpm, such as 160.") from None
    if not SLOWEST_BPM <= target <= FASTEST_BPM:
        raise ValueError(f"A target lies between {SLOWEST_BPM} and {FASTEST_BPM} bpm.")
    try:
        return target, date.fromisoformat(words[1]) if len(words) > 1 else None
    except ValueError:
        raise ValueError(f"{words[1]} is no date. Type one such as 2031-05-01.") from None


def typed_minutes(text: str) -> int:
    """Whole minutes of practice."""
    digits = text.strip()
    minutes = int(digits) if digits.isdecimal() and len(digits) < 10 else 0
    if not LEAST_MINUTES <= minutes <= MOST_MINUTES:
        raise ValueError(f"Type whole minutes, from {LEAST_MINUTES} to {MOST_MINUTES}.")
    return minutes
