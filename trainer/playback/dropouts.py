"""Counting a device's dropouts from its clock alone, because no FluidSynth driver reports them.

A device that plays without a gap consumes frames at its rate. Its clock moves in steps of a period, a busy machine
reads it late, and a server may fill its buffer later for a while; but all that is made good again. When the smallest
lag behind the wall clock has grown and stays so for two seconds, the device has stood still: so much was missing.
"""

from collections import deque
from typing import Final

WINDOW: Final = 0.5
"""Seconds of which the smallest lag is taken."""

WINDOWS: Final = 4
"""How many windows in a row must agree."""

TOLERANCE: Final = 0.004
"""Seconds of growth that are still drift and chance; a house rule, below the 5 ms of the smallest dropout measured."""


class DropoutCount:
    """Counts the gaps of a clock that counts frames."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._baseline: float | None = None
        self._smallest = float("inf")
        self._until: float | None = None
        self._windows: deque[float] = deque(maxlen=WINDOWS)
        self.count = 0
        """Gaps so far; gaps within two seconds count as one."""
        self.seconds = 0.0
        """Sound that was missing so far."""

    def read(self, seconds: float, frame: int) -> None:
        """Take a reading: at `seconds` of a steady clock the device had reached `frame`."""
        if self._until is None:
            self._until = seconds + WINDOW
        if seconds > self._until:
            self._close_window()
            self._until = seconds + WINDOW
        self._smallest = min(self._smallest, seconds - frame / self._rate)

    def _close_window(self) -> None:
        self._windows.append(self._smallest)
        self._smallest = float("inf")
        if len(self._windows) < WINDOWS:
            return
        lag = min(self._windows)
        if self._baseline is not None and lag - self._baseline > TOLERANCE:
            self.count += 1
            self.seconds += lag - self._baseline
        self._baseline = lag
