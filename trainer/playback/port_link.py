"""The two pipes to the process that serves a MIDI port: records to it, its few words back, and no waiting for ever."""

import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from typing import IO, Final, cast

from trainer import own_process
from trainer.playback import sound_log
from trainer.playback.port_names import PortError
from trainer.playback.sink import SinkGoneError

OPENING: Final = 8.0
"""Seconds in which the process must have opened the port."""

TAKING: Final = 1.0
"""Seconds in which the process must have room for more records."""

HEARTBEAT: Final = 4.0
"""Seconds without a word from the process after which it counts as stuck; it says `alive` twice a second."""

CLOSING: Final = 2.0
"""Seconds in which the process must have ended every note and gone."""


class PortLink:
    """A running port process; one caller at a time."""

    def __init__(self, name: str, system: str, virtual: bool, options: Sequence[str]) -> None:
        """Start the process and wait until it has opened the port. Raises PortError."""
        if sys.platform == "win32":
            raise PortError("Playing on a MIDI port works on Linux and macOS only. Play on the synth, or to a file.")
        self._words = ["--system", system, *(["--virtual"] if virtual else []), *options, "--", name]
        self._virtual = virtual
        self._process = self._start()
        self._to = cast(IO[bytes], self._process.stdin)
        self._from = cast(IO[bytes], self._process.stdout)
        os.set_blocking(self._to.fileno(), False)
        os.set_blocking(self._from.fileno(), False)
        self._said = b""
        self._gone: str | None = None
        self._heard = time.monotonic()
        self.port = self._await_ready(name)
        """The name of the port that was opened."""

    def _start(self) -> "subprocess.Popen[bytes]":
        with sound_log.open_log() as log:
            return own_process.start("trainer.playback.port_process", self._words, stderr=log)

    def _await_ready(self, name: str) -> str:
        end = time.monotonic() + OPENING
        line = None
        while line is None and time.monotonic() < end:
            select.select([self._from], [], [], 0.1)
            line = self._next_line()
        word, _, rest = (line or "").partition(" ")
        if word == "ready":
            return rest.partition(" ")[2]
        self.close()
        raise PortError(rest if word == "failed" else f"The MIDI port {name!r} could not be opened; see the sound log.")

    def _next_line(self) -> str | None:
        """The next line that the process has said; "" when it is gone without a word; None when it says nothing."""
        if b"\n" not in self._said:
            try:
                got = os.read(self._from.fileno(), 4096)
            except BlockingIOError:
                return None
            if not got:
                return ""
            self._said += got
        line, newline, rest = self._said.partition(b"\n")
        if not newline:
            return None
        self._said = rest
        return line.decode(errors="replace")

    def check(self) -> None:
        """Hear whether the port is still served. Raises SinkGoneError, from then on every time."""
        while self._gone is None and (line := self._next_line()) is not None:
            self._heard = time.monotonic()
            if line != "alive":
                self._gone = line.removeprefix("gone ") or self._ended()
        if self._gone is None and time.monotonic() - self._heard > HEARTBEAT:
            self._gone = f"The MIDI port {self.port!r} is stuck: its system takes no more messages. Start again."
        if self._gone is not None:
            raise SinkGoneError(self._gone)

    def _ended(self) -> str:
        """Why the process says nothing more; one that was killed has another one end its notes."""
        if not self._virtual and self._process.poll() not in (None, 0, 3):
            successor = self._start()  # it ends every note and goes, because its pipe has ended
            cast(IO[bytes], successor.stdin).close()
            cast(IO[bytes], successor.stdout).close()
            threading.Thread(target=successor.wait, name="port end", daemon=True).start()
        return f"The process that served the MIDI port {self.port!r} has ended. Start again."

    def write(self, data: bytes) -> None:
        """Hand over records. Raises SinkGoneError."""
        self.check()
        rest = memoryview(data)
        end = time.monotonic() + TAKING
        while rest:
            try:
                rest = rest[os.write(self._to.fileno(), rest) :]
            except BlockingIOError:
                if time.monotonic() > end:
                    self._gone = f"The MIDI port {self.port!r} takes no more messages. Start again."
                    raise SinkGoneError(self._gone) from None
                select.select([], [self._to], [], 0.05)
            except OSError:
                self.check()  # it may have said why
                self._gone = self._ended()
                raise SinkGoneError(self._gone) from None

    def close(self) -> None:
        """End the process; it ends every note first."""
        if self._gone is None:
            self._gone = "The MIDI port was closed."
        self._to.close()
        try:
            self._process.wait(CLOSING)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._from.close()
