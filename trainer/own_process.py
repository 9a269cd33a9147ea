"""Starting a process of the program's own, which runs no code from the current folder.

`python -m` alone puts the current folder first on the path, so that a file `argparse.py` in a downloaded folder of
exercises would run instead of Python's own. `-P` leaves it out; so are relative entries of `PYTHONPATH`, an empty one
(a stray colon) among them, which mean the current folder too.
"""

import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO

from trainer.places import PACKAGE


def start(
    module: str,
    arguments: Sequence[str] = (),
    *,
    stderr: int | IO[bytes] = subprocess.DEVNULL,
    environment: Mapping[str, str] | None = None,
) -> "subprocess.Popen[bytes]":
    """Start one of the program's modules as a process, with unbuffered pipes to its descriptors 0 and 1.

    It has a session of its own: the terminal's Ctrl-C is its owner's to handle.

    Args:
        module: the module's full name.
        arguments: its command line.
        stderr: where what it prints on descriptor 2 goes.
        environment: variables to set beside the owner's.
    """
    given = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    paths = [str(PACKAGE.parent), *(path for path in given if Path(path).is_absolute())]
    return subprocess.Popen(  # noqa: S603  # our own module
        [sys.executable, "-P", "-m", module, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=stderr,
        env={**os.environ, **(environment or {}), "PYTHONPATH": os.pathsep.join(paths)},
        start_new_session=True,
        bufsize=0,
    )
