"""Whether the machine itself stood still: a small process notes when it could not wake in time.

A test against the clock asks what the trainer does in time. On a shared host the machine can stop for longer than such
a test allows; then its answer says nothing about the trainer, and it is worth asking again. What decides is measured
beside the test, by a program that does nothing else and would have been as late.
"""

import mmap
import os
import struct
import subprocess
import sys
import time
from pathlib import Path

STEP_S = 0.002
"""How long the watching process sleeps between two looks at the clock."""

_STUMBLE = struct.Struct("dd")
_COUNT = struct.Struct("q")
_KEPT = 4096


class MachineWatch:
    """A process beside the tests that keeps when it woke late, and by how much.

    Args:
        path: a new file that it shares with this process.
        late_s: from how many seconds too late on a waking is kept.
    """

    def __init__(self, path: Path, late_s: float = 0.01) -> None:
        path.write_bytes(bytes(_COUNT.size + _KEPT * _STUMBLE.size))
        self._shared = _opened(path)
        self.process = subprocess.Popen([sys.executable, "-I", __file__, str(path), str(late_s)])

    def longest(self, since: float) -> float:
        """The longest time in seconds that it woke late after `since` (`time.monotonic()`); 0 where it never did."""
        (count,) = _COUNT.unpack_from(self._shared)
        return max((late for at, late in self._kept(count) if at >= since), default=0.0)

    def _kept(self, count: int) -> list[tuple[float, float]]:
        return [_STUMBLE.unpack_from(self._shared, _place(number)) for number in range(min(count, _KEPT))]

    def close(self) -> None:
        """End the process."""
        self.process.kill()
        self.process.wait()
        self._shared.close()


def _opened(path: Path) -> mmap.mmap:
    with path.open("r+b") as file:
        return mmap.mmap(file.fileno(), 0)


def _place(number: int) -> int:
    return _COUNT.size + number % _KEPT * _STUMBLE.size


def _watch(path: Path, late_s: float) -> None:
    shared, parent = _opened(path), os.getppid()
    count, before = 0, time.monotonic()
    while os.getppid() == parent:
        time.sleep(STEP_S)
        now = time.monotonic()
        if (late := now - before - STEP_S) > late_s:
            _STUMBLE.pack_into(shared, _place(count), now, late)
            count += 1
            _COUNT.pack_into(shared, 0, count)
        before = now


if __name__ == "__main__":
    _watch(Path(sys.argv[1]), float(sys.argv[2]))
