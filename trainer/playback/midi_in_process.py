"""The process that listens to one outside MIDI port and tells its owner, line by line, what comes in.

RtMidi cannot be listened to in the program's own process: it calls back from the MIDI system's thread, and JACK cancels
that thread when its client is closed. A thread that waits for Python's lock at that moment leaves the lock taken for
ever, or a thread state that nobody owns any more: the program stands still, or dies of a segmentation fault (seen in
one of two closings while notes came in). So no message is called back here, RtMidi's own queue is asked instead, the
client is never closed but ends with the process, and whatever happens to this process, the program lives on.

It ends when descriptor 0 does, or when its owner is gone. On descriptor 1 it says `failed SENTENCE`, or
`ready SYSTEM NAME`; then `in ARRIVED_NS SINCE_LAST_NS BYTES` for each message (nanoseconds of the steady clock,
the driver's own time since the message before, hexadecimal), `alive` twice a second, and at last perhaps
`gone SENTENCE`.
"""

import argparse
import contextlib
import os
import select
import signal
import time
from typing import TYPE_CHECKING, Final

from trainer.playback.fluid import LibraryMissingError
from trainer.playback.jack_watch import JackWatch
from trainer.playback.midi_ports import AUTOMATIC, open_input
from trainer.playback.port_names import PortError
from trainer.playback.real_time import run_punctually

if TYPE_CHECKING:
    import rtmidi

POLL: Final = 0.002
"""Seconds between two looks into the queue; the driver stamps, so that a look that is late makes nothing inexact."""

LOOK: Final = 0.5
"""Seconds between two looks whether port and owner are still there."""


def _tell(descriptor: int, text: str) -> None:
    """Write lines; what the owner does not read any more is lost."""
    rest = memoryview(text.encode())
    with contextlib.suppress(OSError):
        while rest:
            rest = rest[os.write(descriptor, rest) :]


def _came(port: "rtmidi.MidiIn") -> str:
    """What is in the queue, as lines."""
    lines = []
    while (event := port.get_message()) is not None:
        message, since_last = event
        lines.append(f"in {time.monotonic_ns()} {round(since_last * 1e9)} {bytes(message).hex()}\n")
    return "".join(lines)


def _listen(port: "rtmidi.MidiIn", name: str, virtual: bool, watch: JackWatch | None, to: int) -> None:
    owner, looked = os.getppid(), time.monotonic()
    while not select.select([0], [], [], POLL)[0]:
        if lines := _came(port):
            _tell(to, lines)
        if time.monotonic() - looked < LOOK:
            continue
        looked = time.monotonic()
        if os.getppid() != owner:
            return
        _tell(to, "alive\n")
        if (watch is not None and watch.ended) or not (virtual or name in port.get_ports()):
            _tell(to, f"gone The MIDI input {name!r} is no longer there. Connect it again, and start again.\n")
            return


def main() -> int:
    """Listen to the port that the command line names. Returns the exit code: 0, or 3 where there is no such port."""
    owner = os.dup(1)
    os.dup2(2, 1)  # what libraries print on either goes to the log
    parser = argparse.ArgumentParser(prog="midi_in_process", description="Listen to one MIDI port; see the module.")
    parser.add_argument("name")
    parser.add_argument("--system", default=AUTOMATIC)
    parser.add_argument("--virtual", action="store_true")
    arguments = parser.parse_args()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the owner decides
    try:
        port, opened = open_input(arguments.name, arguments.system, arguments.virtual)
    except (PortError, LibraryMissingError) as error:
        _tell(owner, f"failed {' '.join(str(error).split())}\n")
        return 3
    port.ignore_types(sysex=True, timing=True, active_sense=True)
    watch = JackWatch() if opened.system == "jack" else None
    run_punctually()
    _tell(owner, f"ready {opened.system} {opened.name}\n")
    _listen(port, opened.name, arguments.virtual, watch, owner)
    return 0


if __name__ == "__main__":
    # Without any clean-up: the system takes the port away with the process, and a library's own closing can hang.
    code = main()
    os._exit(code)
