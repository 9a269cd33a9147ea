"""A sink that sounds nothing: the stand works on it where there is no device, no bank or no synth."""

import time
from collections.abc import Callable, Sequence

from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event

RATE = 48000


class SilentSink:
    """Counts frames by a clock and forgets what it is given."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """Begin at frame 0.

        Args:
            clock: seconds that never go back.
        """
        self._clock = clock
        self._origin = clock()

    @property
    def rate(self) -> int:
        """Frames a second."""
        return RATE

    @property
    def min_ahead(self) -> int:
        """A hundredth of a second."""
        return RATE // 100

    def now(self) -> int:
        """The frame that the clock has come to."""
        return int((self._clock() - self._origin) * RATE)

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        """Nothing is there to prepare."""

    def send(self, events: Sequence[Event]) -> None:
        """Forget them."""

    def withdraw(self) -> None:
        """Nothing is kept."""

    def withdraw_from(self, frame: int) -> None:
        """Nothing is kept."""

    def silence(self) -> None:
        """It is silent."""

    def close(self) -> None:
        """Nothing is open."""
