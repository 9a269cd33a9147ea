"""Live MIDI in: messages with the times at which they came, for listening to a player and for foot pedals."""

import contextlib
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from trainer.playback.jack_watch import JackWatch
from trainer.playback.midi_ports import AUTOMATIC, open_input
from trainer.playback.patience import OutOfPatienceError, within

LOOK: Final = 0.5
"""Seconds between two looks whether the port is still there."""

CLOSING: Final = 1.0
"""Seconds that the system may take to release a port."""

ANCHOR: Final = 10.0
"""Seconds of messages that tie the driver's clock to the system's; longer, and a difference in speed would show."""


class SourceGoneError(Exception):
    """The MIDI input is no longer there; the text is a plain sentence."""


@dataclass(frozen=True, slots=True)
class Received:
    """A message and when it came."""

    seconds: float
    """On the system's steady clock (`time.monotonic`), by the driver's stamp."""
    message: tuple[int, ...]
    """Its bytes, the status first."""


class DriverClock:
    """Turns the driver's times between messages into times of the system's clock.

    The driver stamps exactly, but only says how long after the message before each one came; the program sees each one
    exactly never too early but often too late. The smallest lateness of the last seconds ties the two clocks together.
    """

    def __init__(self) -> None:
        self._driver = 0.0
        self._offsets: deque[tuple[float, float]] = deque()

    def seconds(self, arrived: float, since_last: float) -> float:
        """When a message came that the program saw at `arrived`, `since_last` seconds after the one before it."""
        self._driver += since_last
        self._offsets.append((arrived, arrived - self._driver))
        while self._offsets[0][0] < arrived - ANCHOR:
            self._offsets.popleft()
        return self._driver + min(offset for _, offset in self._offsets)


class MidiSource:
    """An open MIDI input. What comes is kept until it is taken."""

    def __init__(
        self,
        name: str,
        system: str = AUTOMATIC,
        *,
        virtual: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Open the input.

        Args:
            name: the port's name, or a part of it that no other port's name has; for a virtual port, its new name.
            system: one of `midi_ports.midi_systems()`, or "auto" for every one.
            virtual: whether to make a new port that others connect to.
            clock: seconds that never go back.

        Raises:
            PortError: there is no such port, or it cannot be opened.
        """
        self._clock = clock
        self._came: deque[tuple[float, float, tuple[int, ...]]] = deque()
        self._driver_clock = DriverClock()
        self._virtual = virtual
        self._open = True
        self._input, opened = open_input(name, system, virtual)
        self.port = opened.name
        """The name of the port that was opened."""
        self._watch = JackWatch() if opened.system == "jack" else None
        self._looked = clock()
        self._input.ignore_types(sysex=True, timing=True, active_sense=True)
        came, stamp = self._came, clock

        def keep(event: tuple[list[int], float], _data: object) -> None:
            came.append((stamp(), event[1], tuple(event[0])))

        self._input.set_callback(keep)

    def take(self) -> list[Received]:
        """What has come since the last call, in order. Raises SourceGoneError when nothing more will."""
        taken = []
        while self._came:
            arrived, since_last, message = self._came.popleft()
            taken.append(Received(self._driver_clock.seconds(arrived, since_last), message))
        if not taken:
            self.check()
        return taken

    def check(self) -> None:
        """See whether the port is still there, at most twice a second. Raises SourceGoneError."""
        if not self._open:
            raise SourceGoneError("The MIDI input was closed.")
        if self._clock() - self._looked < LOOK:
            return
        self._looked = self._clock()
        if not self._still_there():
            raise SourceGoneError(
                f"The MIDI input {self.port!r} is no longer there. Connect it again, and start again."
            )

    def _still_there(self) -> bool:
        if self._watch is not None and self._watch.ended:
            return False
        return self._virtual or self.port in self._input.get_ports()

    def close(self) -> None:
        """Release the port. May be called twice."""
        if not self._open:
            return
        self._open = False
        if self._watch is not None:
            self._watch.close()
        with contextlib.suppress(OutOfPatienceError):  # RtMidi may wait for a JACK server that died
            within(CLOSING, self._release)

    def _release(self) -> None:
        self._input.cancel_callback()
        self._input.close_port()
        self._input.delete()
