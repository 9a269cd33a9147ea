"""The process that serves one outside MIDI port: records in on descriptor 0, messages out when their time has come.

It does nothing else, so nothing makes it late: no screen, no cyclic garbage collector (most of the lateness of a Python
thread, see `tests/benchmarks/port_jitter.py`), a real-time schedule where the system allows one. It waits for absolute
times. Whatever ends it (the pipe's end because its owner closed it or died, a signal), it ends every note and centres
every wheel first; it does so too when its owner is put to sleep (Ctrl-Z; seen on Linux only). On descriptor 1 it says
`failed SENTENCE`, or `ready SYSTEM NAME`, then `alive` twice a second, and at last perhaps `gone SENTENCE`.
"""

import argparse
import array
import contextlib
import functools
import heapq
import os
import select
import signal
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Final

from trainer.playback.event import Kind
from trainer.playback.fluid import LibraryMissingError
from trainer.playback.jack_watch import JackWatch
from trainer.playback.midi_ports import AUTOMATIC, open_output
from trainer.playback.port_fold import Fold, Message
from trainer.playback.port_names import PortError
from trainer.playback.port_records import RECORD_FORMAT, PortCommand, PortRecord
from trainer.playback.real_time import run_punctually

if TYPE_CHECKING:
    import rtmidi

SPIN_NS: Final = 200_000
"""The last stretch before a message is waited for by asking the clock, because waking up takes this long at times."""

CLICK_NS: Final = 60_000_000
"""How long a click's key is held."""

LOOK_NS: Final = 500_000_000
"""How often to see whether the port is still there."""

QUIET_NS: Final = 5_000_000
"""Looking waits for a gap of this length between messages, unless it has waited four times as long as usual."""

LINGER: Final = 0.05
"""Seconds from the last message until the port is closed: JACK takes messages at its next period only."""

FAREWELLS: Final = 3
"""How often every note is ended at last: a synth on JACK that is late loses what was for it in that cycle. With one
that is late a third of the time, 25 of 60 endings were lost when said once, 12 when twice, 5 when three times."""

_PARSED_AT_ONCE: Final = 32  # records between two looks at the clock: some 30 µs
_CLICK: Final = int(Kind.CLICK)
_CLICK_END: Final = 255  # the end of a click that has begun: nobody sends it, and nobody withdraws it


class _StopError(Exception):
    """A signal asks to end."""


class PortLoop:
    """The queue of records and the loop that carries them out."""

    def __init__(self, port: "rtmidi.MidiOut", name: str, virtual: bool, watch: JackWatch | None) -> None:
        self._port = port
        self._name = name
        self._virtual = virtual
        self._watch = watch
        self.stamps: array.array[int] | None = None
        """Where to note when each record was due and when it was sent."""
        self._fold = Fold()
        self._queue: list[tuple[int, int, PortRecord]] = []
        self._count = 0
        self._looked_ns = time.monotonic_ns()
        self._owner = os.getppid()
        self._asleep = False
        self._unread = bytearray()

    def run(self, tell: Callable[[str], None]) -> str | None:
        """Serve until the pipe ends. What the owner should be told: None, or why the port is gone."""
        while True:
            while len(self._unread) >= RECORD_FORMAT.size:
                self._take_in()
                self._send_due()
            wait = self._wait_ns()
            if wait > SPIN_NS:
                readable, _, _ = select.select([0], [], [], (wait - SPIN_NS) / 1e9)
                if readable and not self._read():
                    return None
            self._send_due()
            if self._time_to_look():
                if os.getppid() != self._owner:
                    return None
                tell("alive")
                self._rest()
                if not self._still_there():
                    return f"The MIDI port {self._name!r} is no longer there. Connect it again, and start again."

    def _wait_ns(self) -> int:
        now = time.monotonic_ns()
        look = self._looked_ns + LOOK_NS - now
        return max(0, min(look, self._queue[0][0] - now) if self._queue else look)

    def _read(self) -> bool:
        got = os.read(0, 65536)
        self._unread += got
        return bool(got)

    def _take_in(self) -> None:
        whole = min(len(self._unread) // RECORD_FORMAT.size, _PARSED_AT_ONCE) * RECORD_FORMAT.size
        for fields in RECORD_FORMAT.iter_unpack(self._unread[:whole]):
            record = PortRecord(*fields)
            if record.kind == PortCommand.WITHDRAW:
                self._withdraw(record.due_ns)
            elif record.kind == PortCommand.SILENCE:
                self.silence()
            elif record.kind == PortCommand.RESET:
                self.silence()
                self._send(self._fold.centre())
                self._fold.forget()
            else:
                self._queue_up(record)
        del self._unread[:whole]

    def _withdraw(self, from_ns: int) -> None:
        self._queue = [
            waiting for waiting in self._queue if waiting[0] < max(1, from_ns) or waiting[2].kind == _CLICK_END
        ]
        heapq.heapify(self._queue)

    def _queue_up(self, record: PortRecord) -> None:
        heapq.heappush(self._queue, (record.due_ns, self._count, record))
        self._count += 1

    def _send_due(self) -> None:
        """Send everything that is due within the next moment, each message at its time."""
        while self._queue:
            due = self._queue[0][0]
            if due > time.monotonic_ns() + SPIN_NS:
                return
            record = heapq.heappop(self._queue)[2]
            messages = self._messages(record)
            while time.monotonic_ns() < due:
                pass
            self._send(messages)
            if self.stamps is not None and due:
                self.stamps.append(due)
                self.stamps.append(time.monotonic_ns())

    def _messages(self, record: PortRecord) -> Sequence[Message]:
        due, kind, inside, outside, one, two = record
        if kind == PortCommand.RAW:
            return [(outside, one, two)[:inside]]
        if kind == _CLICK:
            self._queue_up(PortRecord(due + CLICK_NS, _CLICK_END, inside, outside, one, 0))
            kind = Kind.NOTE_ON
        elif kind == _CLICK_END:
            kind = Kind.NOTE_OFF
        return self._fold.messages(kind, inside, outside, one, two)

    def _send(self, messages: Sequence[Message]) -> None:
        if self._watch is not None and self._watch.ended:
            return  # RtMidi would wait for ever once its buffer is full
        for message in messages:
            self._port.send_message(message)

    def silence(self) -> None:
        """Forget what is queued, and end every note on every channel."""
        self._queue.clear()
        self._send(self._fold.silence())

    def centre(self) -> None:
        """Put every wheel back to rest."""
        self._send(self._fold.centre())
        self._send(self._fold.all_centred())

    def _rest(self) -> None:
        """Leave nothing bent where nothing sounds, and nothing sounding where the owner sleeps."""
        was_asleep, self._asleep = self._asleep, _is_stopped(self._owner)
        if self._asleep and not was_asleep:
            self.silence()
            self.centre()
        self._send(self._fold.centre_resting())

    def _time_to_look(self) -> bool:
        now = time.monotonic_ns()
        waited = now - self._looked_ns
        if waited < LOOK_NS:
            return False
        return waited > 4 * LOOK_NS or not self._queue or self._queue[0][0] - now > QUIET_NS

    def _still_there(self) -> bool:
        self._looked_ns = time.monotonic_ns()
        if self._watch is not None and self._watch.ended:
            return False
        return self._virtual or self._name in self._port.get_ports()


def _is_stopped(process: int) -> bool:
    """Whether a process has been stopped by a signal, as by Ctrl-Z; False where the system does not tell."""
    try:
        state = Path(f"/proc/{process}/stat").read_bytes().rpartition(b")")[2].split()[0]
    except (OSError, IndexError):
        return False
    return state in (b"T", b"t")


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise _StopError


def _tell(descriptor: int, line: str) -> None:
    with contextlib.suppress(OSError):  # nobody listens any more
        os.write(descriptor, (" ".join(line.split()) + "\n").encode())


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="port_process", description="Serve one MIDI port; see the module.")
    parser.add_argument("name")
    parser.add_argument("--system", default=AUTOMATIC)
    parser.add_argument("--virtual", action="store_true")
    parser.add_argument("--stamps", type=Path, help="write pairs of 64-bit times here: when due, when sent")
    parser.add_argument("--ordinary", action="store_true", help="ask for no real-time schedule, for comparison")
    return parser.parse_args()


def _end(port: "rtmidi.MidiOut", loop: PortLoop) -> None:
    """End every note, centre every wheel, and give the messages the time to leave."""
    with contextlib.suppress(_StopError):
        for _ in range(FAREWELLS):
            loop.silence()
            time.sleep(LINGER)
            loop.centre()
        time.sleep(LINGER)
        port.close_port()


def main() -> int:
    """Serve the port that the command line names. Returns the exit code: 0, or 3 where there is no such port."""
    owner = os.dup(1)
    os.dup2(2, 1)  # what libraries print on either goes to the log
    arguments = _arguments()
    for number in (signal.SIGINT, signal.SIGTERM, *((signal.SIGHUP,) if hasattr(signal, "SIGHUP") else ())):
        signal.signal(number, _stop)
    try:
        port, opened = open_output(arguments.name, arguments.system, arguments.virtual)
    except (PortError, LibraryMissingError) as error:
        _tell(owner, f"failed {error}")
        return 3
    except _StopError:
        return 0
    loop = PortLoop(port, opened.name, arguments.virtual, JackWatch() if opened.system == "jack" else None)
    if arguments.stamps:
        loop.stamps = array.array("q")
    run_punctually(real_time=not arguments.ordinary)
    gone = None
    try:
        _tell(owner, f"ready {opened.system} {opened.name}")
        os.set_blocking(owner, False)  # an owner that does not listen must not hold up the music
        gone = loop.run(functools.partial(_tell, owner))
    except _StopError:
        pass
    if gone:
        _tell(owner, f"gone {gone}")
    else:
        _end(port, loop)
    if loop.stamps is not None:
        arguments.stamps.write_bytes(loop.stamps.tobytes())
    return 0


if __name__ == "__main__":
    # A port that is gone can hang in its library's own clean-up; nothing is left that needs it.
    code = main()
    os._exit(code)
