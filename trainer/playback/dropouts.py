"""Counting a device's dropouts from its clock alone, because no FluidSynth driver reports them.

A device that plays without a gap consumes frames at its rate. Its clock moves in steps of a period, and a busy machine
reads it late; but within half a second some reading comes soon after a step. When the smallest lag behind the wall
clock grows from one half second to the next, the device has stood still in between: that much sound was missing.
"""

from typing import Final

WINDOW: Final = 0.5
"""Seconds of which the smallest lag is taken."""

TOLERANCE: Final = 0.004
"""Seconds of growth that are still drift and chance; a house rule, below the 5 ms of the smallest dropout measured."""


class DropoutCount:
    """Counts the gaps of a clock that counts frames."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._baseline: float | None = None
        self._smallest = float("inf")
        self._until: float | None = None
        self.count = 0
        """Gaps so far; gaps within one half second count as one."""
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
        if self._baseline is not None and self._smallest - self._baseline > TOLERANCE:
            self.count += 1
            self.seconds += self._smallest - self._baseline
        self._baseline = self._smallest
        self._smallest = float("inf")
