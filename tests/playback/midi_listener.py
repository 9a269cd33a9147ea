"""An outside synth on a JACK server that keeps what arrives, and when.

It is jackd's own monitor in a process of its own. JACK drops what a client does not fetch within its cycle (found with
a client that overruns: it loses whole cycles at any time), and a listener in the tests' process, which fetches only
when Python's lock is free, overruns on a busy machine.
"""

import os
import shutil
import subprocess
import threading
import time
from typing import IO, Final, cast

from tests.sound_servers import ServerMissingError, wait_until
from trainer.playback.midi_ports import midi_outputs

NAME: Final = "outside synth"
PORT: Final = f"{NAME}:input"

_PROGRAM: Final = "jack_midi_dump"
_BYTES: Final = {0x80: 3, 0x90: 3, 0xA0: 3, 0xB0: 3, 0xC0: 2, 0xD0: 2, 0xE0: 3, 0xF1: 2, 0xF2: 3, 0xF3: 2}


def _message(line: str) -> tuple[int, ...]:
    """The bytes of a line such as "  12: b0 40 00 control change"."""
    written = line.partition(":")[2].split()
    status = int(written[0], 16)
    return tuple(int(byte, 16) for byte in written[: _BYTES.get(status if status >= 0xF0 else status & 0xF0, 1)])


class Listener:
    """A port that keeps what arrives."""

    def __init__(self) -> None:
        """Open the port. Raises ServerMissingError where jackd's monitor is not installed."""
        if shutil.which(_PROGRAM) is None:
            raise ServerMissingError(f"{_PROGRAM} not installed (Debian: jackd2)")
        self.messages: list[tuple[int, ...]] = []
        self.times: list[float] = []
        self._process = subprocess.Popen(
            [_PROGRAM, NAME], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=os.environ
        )
        self._lines = cast(IO[str], self._process.stdout)
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        try:
            wait_until(lambda: any(port.name == PORT for port in midi_outputs("jack")), "the listener's port")
        except TimeoutError:
            self.close()
            raise

    def _read(self) -> None:
        for line in self._lines:
            self.times.append(time.monotonic())
            self.messages.append(_message(line))

    def notes(self) -> list[tuple[int, ...]]:
        return [message for message in self.messages if message[0] & 0xE0 == 0x80]

    def silenced(self) -> bool:
        return all((0xB0 | channel, 120, 0) in self.messages for channel in range(16))

    def close(self) -> None:
        self._process.terminate()
        self._process.wait(10)
        self._reader.join(10)
        self._lines.close()
