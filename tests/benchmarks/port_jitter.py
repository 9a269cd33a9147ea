"""How exactly notes leave for an outside MIDI port, idle and beside a screen that repaints fully 30 times a second.

Run as `python -m tests.benchmarks.port_jitter [--notes 1200] [--interval 0.025]`; needs jackd (its dummy driver, 48
kHz, 64 frames). Each sender is a process on a pseudo-terminal of 120 x 40. Lateness is measured at the sender, and the
jitter is |lateness - median| in milliseconds. The peer, in the same run under the same load, is a loop over mido's
`MidiFile.play()`. Notes are numbered, and a listener counts those that are lost. A bound is met when its ratio is at
most 1. `process` is the port sink as it is; `ordinary` is the same without the real-time schedule (SCHED_FIFO), as on a
system that allows none: for information, since it depends on what else the machine does.
"""

import argparse
import contextlib
import fcntl
import json
import os
import pty
import struct
import subprocess
import sys
import tempfile
import termios
import threading
from pathlib import Path

import numpy as np

from tests.benchmarks.repainting import numbered
from tests.sound_servers import jack_server
from trainer.playback.midi_source import MidiSource

P99_BOUND_MS, MAX_BOUND_MS = 1.0, 5.0
COLUMNS, ROWS = 120, 40


def run_on_terminal(arguments: list[str]) -> int:
    """Run the sender on a pseudo-terminal whose output is read and dropped; its exit code."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
    environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.benchmarks.repainting", *arguments],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=environment,
        start_new_session=True,
    )
    os.close(theirs)
    kept = bytearray()

    def drain() -> None:
        try:
            while chunk := os.read(ours, 65536):
                kept[:] = (kept + chunk)[-4000:]
        except OSError:
            return  # the terminal's other end is closed

    reader = threading.Thread(target=drain, daemon=True)
    reader.start()
    code = process.wait()
    reader.join(2)
    os.close(ours)
    if code:
        print(kept.decode(errors="replace"), file=sys.stderr)
    return code


def measure(sender: str, screen: bool, notes: int, interval: float) -> tuple[float, float, int, float]:
    """p99 and largest jitter in ms, how many notes were lost, and frames painted a second."""
    listener = MidiSource("listener", "jack", virtual=True)
    with contextlib.closing(listener), tempfile.TemporaryDirectory() as folder:
        options = ["--notes", str(notes), "--interval", str(interval), "--folder", folder]
        if run_on_terminal([sender, *(["--screen"] if screen else []), *options]):
            raise SystemExit("the sender failed")
        result = json.loads((Path(folder) / "result.json").read_text())
        arrived = {(each.message[1], each.message[2]) for each in listener.take() if each.message[0] == 0x90}
    late = np.array(result["late"]) * 1000
    jitter = np.abs(late - np.median(late))
    lost = len({numbered(number) for number in range(notes)} - arrived) if notes <= 128 * 127 else -1
    return float(np.percentile(jitter, 99)), float(jitter.max()), lost, result["frames_a_second"]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--notes", type=int, default=1200)
    parser.add_argument("--interval", type=float, default=0.025, help="seconds between two notes")
    arguments = parser.parse_args()
    met = True
    with tempfile.TemporaryDirectory() as folder, jack_server(Path(folder)):
        heads = ("p99 ms", "/ bound", "/ mido", "max ms", "/ bound", "/ mido")
        print(f"{'load':8} {'sender':10} {' '.join(f'{head:>8}' for head in heads)} {'lost':>5} {'frames/s':>9}")
        for load, screen in (("idle", False), ("screen", True)):
            peer = measure("mido", screen, arguments.notes, arguments.interval)
            for sender in ("mido", "ordinary", "process"):
                p99, worst, lost, painted = (
                    peer if sender == "mido" else measure(sender, screen, arguments.notes, arguments.interval)
                )
                print(
                    f"{load:8} {sender:10} {p99:8.3f} {p99 / P99_BOUND_MS:8.2f} {p99 / peer[0]:8.3f} "
                    f"{worst:8.3f} {worst / MAX_BOUND_MS:8.2f} {worst / peer[1]:8.3f} {lost:5} {painted:9.1f}",
                    flush=True,
                )
                if sender == "process":
                    met = met and p99 <= P99_BOUND_MS and worst <= MAX_BOUND_MS and lost == 0
    print("bounds met" if met else "bounds NOT met")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
