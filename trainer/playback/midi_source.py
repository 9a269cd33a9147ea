"""Live MIDI in: messages with the times at which they came, for listening to a player and for foot pedals.

The port is listened to by a process of its own (`midi_in_process`), because no MIDI library may take the program down.
"""

import os
import select
import subprocess
import sys
import time
from collections import deque
from dataclasses import dataclass
from typing import IO, Final, cast

from trainer import own_process
from trainer.playback import sound_log
from trainer.playback.midi_ports import AUTOMATIC
from trainer.playback.port_names import PortError

OPENING: Final = 8.0
"""Seconds in which the process must have opened the port."""

HEARTBEAT: Final = 4.0
"""Seconds without a word from the process after which it counts as stuck; it says `alive` twice a second."""

CLOSING: Final = 1.0
"""Seconds in which the process must have ended by itself."""

AGAIN: Final = 5.0
"""A process that was lost is started again unless it was started less than so many seconds ago."""

ANCHOR: Final = 10.0
"""Seconds of messages that tie the driver's clock to the system's; longer, and a difference in speed would show."""


class SourceGoneError(Exception):
    """The MIDI input is no longer there; the text is a plain sentence."""


@dataclass(frozen=True, slots=True)
class ReceivedMessage:
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
    """An open MIDI input. What comes is kept until it is taken; one caller at a time."""

    def __init__(self, name: str, system: str = AUTOMATIC, *, virtual: bool = False) -> None:
        """Open the input.

        Args:
            name: the port's name, or a part of it that no other port's name has; for a virtual port, its new name.
            system: one of `midi_ports.midi_systems()`, or "auto" for every one.
            virtual: whether to make a new port that others connect to.

        Raises:
            PortError: there is no such port, or it cannot be opened.
        """
        if sys.platform == "win32":
            raise PortError("Listening to a MIDI port works on Linux and macOS only. Listen to the sound card.")
        self.port = name
        """The name of the port that was opened."""
        self.restarts = 0
        """How often the process that listens was lost and started again; what came meanwhile is lost."""
        self._words = ["--system", system, *(["--virtual"] if virtual else []), "--"]
        self._taken: list[ReceivedMessage] = []
        self._gone = ""
        self._process = self._start()
        end = time.monotonic() + OPENING
        while not self._ready and not self._gone and time.monotonic() < end:
            select.select([cast(IO[bytes], self._process.stdout)], [], [], 0.1)
            self._read()
        if not self._ready:
            why = self._gone
            self.close()
            raise PortError(why or f"The MIDI port {name!r} could not be opened; see the sound log.")

    def _start(self) -> "subprocess.Popen[bytes]":
        self._driver_clock = DriverClock()
        self._said = b""
        self._ready = False
        self._started = self._heard = time.monotonic()
        with sound_log.open_log() as log:
            words = [*self._words, self.port]
            process = own_process.start("trainer.playback.midi_in_process", words, stderr=log)
        os.set_blocking(cast(IO[bytes], process.stdout).fileno(), False)
        return process

    def take(self) -> list[ReceivedMessage]:
        """What has come since the last call, in order. Raises SourceGoneError when nothing more will."""
        self._read()
        taken, self._taken = self._taken, []
        if not taken:
            self.check()
        return taken

    def check(self) -> None:
        """See whether the port is still there. Raises SourceGoneError."""
        self._read()
        if self._gone and not self._taken:
            raise SourceGoneError(self._gone)

    def _read(self) -> None:
        """Take in what the process has said; start it again where it was lost."""
        while not self._gone:
            try:
                got = os.read(cast(IO[bytes], self._process.stdout).fileno(), 65536)
            except BlockingIOError:
                if time.monotonic() - self._heard > HEARTBEAT:
                    self._lost()
                return
            if not got:
                self._lost()
                return
            self._heard = time.monotonic()
            *lines, self._said = (self._said + got).split(b"\n")
            for line in lines:
                self._hear(line.decode(errors="replace"))

    def _hear(self, line: str) -> None:
        word, _, rest = line.partition(" ")
        if word == "in":
            arrived, since_last, message = rest.split()
            moment = self._driver_clock.seconds(int(arrived) / 1e9, int(since_last) / 1e9)
            self._taken.append(ReceivedMessage(moment, tuple(bytes.fromhex(message))))
        elif word == "ready":
            self._ready, self.port = True, rest.partition(" ")[2]
        elif word in ("gone", "failed"):
            self._gone = rest

    def _lost(self) -> None:
        """The process ended without a word, or is stuck."""
        self._end()
        if not self._ready or time.monotonic() - self._started < AGAIN:
            self._gone = f"The process that listens to the MIDI input {self.port!r} has ended. Start again."
            return
        self.restarts += 1
        self._process = self._start()

    def close(self) -> None:
        """Release the port. May be called twice."""
        self._gone = "The MIDI input was closed."
        self._taken = []
        self._end()

    def _end(self) -> None:
        for pipe in (self._process.stdin, self._process.stdout):
            cast(IO[bytes], pipe).close()
        try:
            self._process.wait(CLOSING)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
