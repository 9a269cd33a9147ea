"""Exercise files on disk: opened with every way it can fail told as a problem, saved whole or not at all."""

import os
import stat
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.problem import Problem, ProblemsError

if TYPE_CHECKING:
    from trainer.music.exercise import Exercise

MOST_BYTES = 8 * 1024 * 1024
"""Size of a file we open; a 2,000-bar exercise of four parts takes about 2 MiB."""


def file_text(path: Path, name: str = "", limit: int = MOST_BYTES) -> str:
    """The text of a file.

    Args:
        path: the file.
        name: how problems call it; its path when empty.
        limit: the most bytes it may have.

    Raises:
        ProblemsError: for what is no readable UTF-8 text of bearable size.
    """
    name = name or str(path)
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise _problem(name, "this is a folder", "Name an exercise file in it")
        if not stat.S_ISREG(found.st_mode):
            raise _problem(name, "this is not a regular file", "Name an exercise file, ending .md")
        if found.st_size > limit:
            size = f"{found.st_size / 1024 / 1024:.0f} MiB"
            raise _problem(
                name, f"this file has {size}, too much for an exercise", "Exercises are text files, ending .md"
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise _problem(name, "there is no such file", "Check the path, or see twinspur list") from None
    except PermissionError:
        raise _problem(name, "you have no permission to read this file", "Change its permissions") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _problem(name, f"this file cannot be read: {reason}", "") from None
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        what = f"this file is not UTF-8 text (byte {data[error.start]:#04x})"
        raise ProblemsError([Problem(name, line, column, what, "", "Save it as UTF-8")]) from None


def read_file(path: Path, patches: Collection[str] | None = None, name: str = "") -> "Exercise":
    """The exercise in a file. Raises ProblemsError."""
    from trainer.notation.read import read  # a list of files needs no reader

    return read(file_text(path, name), name or str(path), patches)


def save(path: Path, text: str) -> None:
    """Write a text file whole or not at all: under a temporary name beside it, then renamed over it.

    A link is followed, so that it goes on pointing where it did; permissions are kept.

    Raises:
        ProblemsError: when it cannot be written; the old file is then as it was.
    """
    import tempfile  # reading alone does not wait for it

    temporary = ""
    try:
        target = path.resolve()
        found = target.stat() if target.exists() else None
        if found and not stat.S_ISREG(found.st_mode):
            raise _problem(str(path), "this is not a regular file, and is not replaced", "Choose another name")
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:100]}.")
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        mode = stat.S_IMODE(found.st_mode) if found else 0o666 & ~_umask()
        Path(temporary).chmod(mode)
        Path(temporary).replace(target)
    except (OSError, RuntimeError, ValueError) as error:  # links in a circle, and text or a name that is no UTF-8
        if temporary:
            with suppress(OSError):
                Path(temporary).unlink()
        why = getattr(error, "strerror", None) or str(error)
        raise _problem(str(path), f"this file cannot be written: {why}", "Nothing was changed") from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _problem(name: str, what: str, hint: str) -> ProblemsError:
    return ProblemsError([Problem(name, 0, 0, what, "", hint)])
