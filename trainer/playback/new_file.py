"""A file that is there whole or not at all: written under a temporary name beside its place, then renamed."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from trainer.music.printable import printable
from trainer.music.problem import Problem, ProblemsError

_REASONS = {
    PermissionError: ("may not be written", "Choose another folder, or change its permissions"),
    FileNotFoundError: ("cannot be written: its folder does not exist", "Make the folder, or choose another one"),
    NotADirectoryError: ("cannot be written: its folder is a file", "Choose another folder"),
    IsADirectoryError: ("cannot be written: there is a folder of that name", "Choose another name"),
}


@contextmanager
def new_file(path: Path) -> Iterator[Path]:
    """Give a temporary path beside `path`; whatever stands there at the end becomes `path`, unless an error comes.

    Raises ProblemsError for whatever the system refuses; nothing is left behind then.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError
        handle, name = tempfile.mkstemp(prefix=f".{path.stem[:40]}-", suffix=".part", dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise refused(path, error) from error
    temporary = Path(name)
    try:
        yield temporary
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(path)
    except OSError as error:
        raise refused(path, error) from error
    finally:
        temporary.unlink(missing_ok=True)


def refused(path: Path, error: OSError) -> ProblemsError:
    """What to tell the player when the system refuses to write a file."""
    what, hint = _REASONS.get(
        type(error), (f"cannot be written: {(error.strerror or 'the system refuses').lower()}", "Make room for it")
    )
    return ProblemsError([Problem(printable(str(path)), 0, 0, f"the file {what}", hint=hint)])


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current
