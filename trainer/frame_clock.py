"""Which moment of a steady clock a frame of a device belongs to, from looks that come late but never early.

A device's count of frames moves in steps, and whoever looks at it looks late now and then; but of all the looks of a
second the earliest is right to a fraction of a millisecond (measured on PulseAudio: 0.2 ms between openings, where
single looks differ by 11). Where the device loses frames, its lag behind the clock grows and stays: that is a gap.
"""

from bisect import bisect_left
from collections import deque
from dataclasses import dataclass
from typing import Final

WINDOW_S: Final = 0.5
"""Of so long the smallest lag is taken."""
BESIDE: Final = 1
"""Windows on either side that have a say, too."""
AGREE: Final = 4
"""Windows that must agree before a gap is counted; a server that fills its buffer late makes that good within them."""
GAP_S: Final = 0.004
"""Growth of the lag that is no longer chance or a difference in speed; below the 5 ms of the smallest gap measured."""
KEEP_S: Final = 300.0


@dataclass(slots=True)
class _Window:
    """The looks of half a second."""

    until: float
    lag: float
    """The smallest, in seconds."""


class FrameClock:
    """Ties the frames of one device to a clock. Used under its owner's lock."""

    def __init__(self, rate: int) -> None:
        """Begin.

        Args:
            rate: frames a second.
        """
        self._rate = rate
        self._windows: deque[_Window] = deque()
        self._baseline: float | None = None
        self.gaps = 0
        """Times at which frames were lost so far; within two seconds they count as one."""

    def look(self, moment: float, frames: int) -> None:
        """At a moment so many frames had gone by."""
        lag = moment - frames / self._rate
        windows = self._windows
        if not windows or moment > windows[-1].until:
            if windows:
                self._close()
            windows.append(_Window(moment + WINDOW_S, lag))
            while windows[0].until < moment - KEEP_S:
                windows.popleft()
        else:
            windows[-1].lag = min(windows[-1].lag, lag)

    def moment(self, frame: float) -> float | None:
        """When a frame went by; None before the first look."""
        return None if not self._windows else frame / self._rate + self._lag(self._when(frame))

    def frame(self, moment: float) -> float | None:
        """The frame that went by at a moment; None before the first look."""
        return None if not self._windows else (moment - self._lag(moment)) * self._rate

    def wandered(self, first: float, last: float) -> float:
        """Seconds by which the lag differs between two moments: what was lost in between."""
        return abs(self._lag(last) - self._lag(first)) if self._windows else 0.0

    def _when(self, frame: float) -> float:
        """Roughly when a frame went by."""
        rough = frame / self._rate + self._windows[-1].lag
        return frame / self._rate + self._lag(rough)

    def _lag(self, moment: float) -> float:
        windows = list(self._windows)
        at = min(bisect_left(windows, moment, key=lambda window: window.until), len(windows) - 1)
        return min(window.lag for window in windows[max(0, at - BESIDE) : at + BESIDE + 1])

    def _close(self) -> None:
        """A window is over: see whether the lag has grown to stay."""
        last = list(self._windows)[-AGREE:]
        if len(last) < AGREE:
            return
        lag = min(window.lag for window in last)
        if self._baseline is not None and lag - self._baseline > GAP_S:
            self.gaps += 1
        self._baseline = lag
