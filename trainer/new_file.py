"""A file that is there whole or not at all: written under a temporary name beside its place, then renamed."""

import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from trainer.music.printable import printable
from trainer.music.problem import Problem, ProblemsError

_REASONS: dict[type[Exception], tuple[str, str]] = {
    PermissionError: ("may not be written", "Choose another folder, or change its permissions"),
    FileNotFoundError: ("cannot be written: its folder does not exist", "Make the folder, or choose another one"),
    NotADirectoryError: ("cannot be written: its folder is a file", "Choose another folder"),
    IsADirectoryError: ("cannot be written: there is a folder of that name", "Choose another name"),
}
_PROBE = 1 << 16
"""Bytes that show whether there is room: more than a file system hides in a block that is begun."""


@contextmanager
def new_file(path: Path, mode: int | None = None) -> Iterator[Path]:
    """Give a temporary path beside `path`; whatever stands there at the end becomes `path`, unless an error comes.

    A link goes on pointing where it did: the file it points to is written. A file that is replaced keeps its
    permissions. Pipes and devices are never replaced.

    Args:
        path: the file.
        mode: a new file's permissions; None for what the player's umask allows.

    Raises:
        ProblemsError: for whatever the system refuses; nothing is left behind then.
    """
    try:
        target = path.resolve()
        if target.is_symlink():  # links in a circle, which newer Pythons do not refuse to resolve
            raise RuntimeError("links in a circle")
        found = target.stat() if target.exists() else None
        if found and stat.S_ISDIR(found.st_mode):
            raise IsADirectoryError
        if found and not stat.S_ISREG(found.st_mode):
            raise _problem(path, "is a pipe or a device, and is not replaced", "Choose another name")
        handle, name = tempfile.mkstemp(prefix=".twinspur-", suffix=".part", dir=target.parent)
        os.close(handle)
    except (OSError, RuntimeError, ValueError) as error:  # links in a circle, and a name with a zero byte
        raise refused(path, error) from error
    temporary = Path(name)
    try:
        yield temporary
        usual = mode if mode is not None else 0o666 & ~_umask()
        temporary.chmod(stat.S_IMODE(found.st_mode) if found else usual)
        temporary.replace(target)
    except OSError as error:
        raise refused(path, error) from error
    finally:
        temporary.unlink(missing_ok=True)


def refused(path: Path, error: Exception) -> ProblemsError:
    """What to tell the player when the system refuses to write a file."""
    reason = (getattr(error, "strerror", None) or "the system refuses").lower()
    return _problem(path, *_REASONS.get(type(error), (f"cannot be written: {reason}", _hint(error))))


def no_more_room(path: Path) -> str:
    """Why the system takes nothing more into a file, in its own words; empty where it does take more.

    For libraries that only say that something went wrong. The file is of no use afterwards.
    """
    try:
        with path.open("ab") as file:
            file.write(bytes(_PROBE))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        return (error.strerror or "").lower()
    return ""


def _hint(error: Exception) -> str:
    unusable = isinstance(error, OSError) and error.strerror and "name" in error.strerror.lower()
    return "Choose another name" if unusable or not isinstance(error, OSError) else "Make room for it"


def _problem(path: Path, what: str, hint: str) -> ProblemsError:
    return ProblemsError([Problem(printable(str(path)), 0, 0, f"the file {what}", hint=hint)])


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current
