"""Following the sound: the playhead moves, and the count changes, at the moment the next column or count begins."""

from collections.abc import Callable
from fractions import Fraction

from textual.screen import Screen
from textual.timer import Timer

from trainer.music.meter import Meter
from trainer.session.playhead import Playhead

SHORTEST, LONGEST, COUNTING, RESTING = 0.004, 0.1, 0.03, 0.2
"""Seconds between two looks at the playhead: bounds while playing, while counting in, and at rest."""
BEYOND = 0.002
"""Seconds after a moment at which it is looked: a sink's clock goes in blocks of up to 1.3 ms."""


def next_look(head: Playhead, column_end: Fraction | None, bar_at: Fraction, meter: Meter) -> float:
    """Seconds until there is something new to show.

    Args:
        head: where the sound is.
        column_end: where the column ends that is marked, in whole notes from the piece's start; None where none is.
        bar_at: where the bar begins.
        meter: of the bar.
    """
    if head.counting_in:
        return COUNTING
    if not head.playing or not head.a_second:
        return RESTING
    ends = bar_at + head.count * meter.count_length
    if column_end is not None:
        ends = min(ends, column_end)
    return min(max(float((ends - head.place) / head.a_second) + BEYOND, SHORTEST), LONGEST)


class Following:
    """Calls again and again for a look at the playhead, each time at the moment that was asked for."""

    def __init__(self, screen: Screen[None], clock: Callable[[], float], look: Callable[[], None]) -> None:
        """Begin with `look_in`.

        Args:
            screen: whose timers are used.
            clock: seconds that never go back.
            look: looks, and asks for the next look.
        """
        self._screen, self._clock, self._look = screen, clock, look
        self._timer: Timer | None = None
        self._due = 0.0

    def look_in(self, seconds: float) -> None:
        """Look after so long, unless that is to happen before anyway."""
        due = self._clock() + seconds
        if self._timer is not None:
            if due > self._due - 0.005:
                return
            self._timer.stop()
        self._due, self._timer = due, self._screen.set_timer(seconds, self._now)

    def _now(self) -> None:
        self._timer = None
        self._look()
