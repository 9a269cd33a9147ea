"""Tests against the clock run while no other test does, whichever process of pytest-xdist they are in.

A test that asks whether sound came in time would else ask what its neighbours did to the machine. Every test holds the
room with the others; one marked `alone` holds it by itself. Who waits for the room by itself keeps the door, so that
nobody slips in before it.
"""

import contextlib
import fcntl
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def _held(path: Path, how: int) -> Iterator[None]:
    with path.open("a") as file:
        fcntl.flock(file, how)
        try:
            yield
        finally:
            fcntl.flock(file, fcntl.LOCK_UN)


@contextlib.contextmanager
def room(folder: Path, alone: bool) -> Iterator[None]:
    """Wait for the room, hold it for the block.

    Args:
        folder: where the locks lie; the same for all processes of a run.
        alone: whether nobody else may be in it.
    """
    with contextlib.ExitStack() as stay:
        with _held(folder / "door", fcntl.LOCK_EX):
            stay.enter_context(_held(folder / "room", fcntl.LOCK_EX if alone else fcntl.LOCK_SH))
        yield
