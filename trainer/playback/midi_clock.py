"""MIDI clock for outside machines: clock at its exact frames, start, stop, continue, song position.

The clock ticks 24 times a quarter, from the count-in on; start comes with the first downbeat. Where playing begins
elsewhere, the song position (in sixteenths from the piece's start) is told, and continue comes with the first
sixteenth. A machine that follows runs on when the loop begins again: the standard lets a song position be told only
while it stands still (MIDI 1.0, Song Position Pointer).
"""

from bisect import insort
from fractions import Fraction
from math import ceil

from trainer.playback.stretch import Stretch
from trainer.playback.timeline import Timeline

CLOCK, START, CONTINUE, STOP = b"\xf8", b"\xfa", b"\xfb", b"\xfc"

CLOCKS = 96
"""In a whole note."""
_SIXTEENTH = 6
_FURTHEST = 16383

Timed = tuple[int, bytes]
"""A frame and a message."""


class MidiClock:
    """Makes the messages ahead of time, beside the events of a schedule."""

    def __init__(self, timeline: Timeline) -> None:
        self._timeline = timeline
        self._waiting: list[Timed] = []
        self._sent: list[Timed] = []
        self._running = False
        """Whether machines that follow have been told to start, as far as messages have been made."""

    def fill(self, stretch: Stretch, limit: int) -> None:
        """Make the clocks of a stretch that come before a frame."""
        begin = Fraction(0) if stretch.counting_in else self._timeline.piece.bars[stretch.loop.first].at
        end = begin + stretch.frames.curve.place(stretch.end_at) - stretch.frames.curve.place(stretch.begin_at)
        if stretch.clock is None:
            stretch.clock = ceil(begin * CLOCKS)
            while stretch.frames.frame_at(Fraction(stretch.clock, CLOCKS)) < stretch.first:
                stretch.clock += 1
            stretch.first_clock = stretch.clock
        while (place := Fraction(stretch.clock, CLOCKS)) < end:
            frame = stretch.frames.frame_at(place)
            if frame >= limit:
                return
            if not (self._running or stretch.counting_in) and stretch.clock % _SIXTEENTH == 0:
                self._running = True
                self._start(frame, stretch.clock // _SIXTEENTH)
            self._waiting.append((frame, CLOCK))
            stretch.clock += 1

    def end(self, frame: int) -> None:
        """Machines that follow are to stop at a frame."""
        if self._running:
            self._running = False
            insort(self._waiting, (frame, STOP), key=_frame)

    def take(self, horizon: int) -> list[Timed]:
        """The messages to hand over up to a frame."""
        taken = [timed for timed in self._waiting if timed[0] < horizon]
        self._waiting = self._waiting[len(taken) :]
        self._sent += taken
        return taken

    def forget(self, carried_out: int) -> None:
        """The messages up to and at a frame have been sent out."""
        self._sent = [timed for timed in self._sent if timed[0] > carried_out]

    def cut(self, frame: int, stretch: Stretch) -> tuple[list[Timed], list[Timed]]:
        """Take back everything from a frame on, as `Schedule.cut` does; `stretch` plays there.

        Returns:
            The messages before the frame that were handed over, and those that were not yet.
        """
        again = [timed for timed in self._sent if timed[0] < frame]
        unsent = [timed for timed in self._waiting if timed[0] < frame]
        for _, message in reversed([timed for timed in (*self._sent, *self._waiting) if timed[0] >= frame]):
            if message in (START, CONTINUE, STOP):
                self._running = message == STOP
        self._sent, self._waiting = again + unsent, []
        while (
            stretch.clock is not None
            and stretch.clock > stretch.first_clock
            and stretch.frames.frame_at(Fraction(stretch.clock - 1, CLOCKS)) >= frame
        ):
            stretch.clock -= 1
        return again, unsent

    def _start(self, frame: int, sixteenths: int) -> None:
        if sixteenths == 0:
            self._waiting.append((frame, START))
        else:
            told = min(sixteenths, _FURTHEST)
            self._waiting.append((frame, bytes((0xF2, told & 0x7F, told >> 7))))
            self._waiting.append((frame, CONTINUE))


def _frame(timed: Timed) -> int:
    return timed[0]
