"""How fast the shelf is on screen, and how fast the screens answer keys, with few exercises and with very many.

Run as `python -m tests.benchmarks.screens_start [--runs 15] [--exercises 10000] [--passes 1000000] [--log FILE]`.

Times go from the start of the process to the moment the text has reached a pseudo-terminal of 120 by 40: for the peer,
a Textual application that says one sentence, that sentence; for the shelf, the title of an exercise in its list; and,
where there is a record, the day when one of them is due, which comes when the log was read. Both find their byte code,
as an installed program does. Peer and program take turns; ratios are of medians, and beside them, because a busy
machine spreads times, of the processor time that all their threads had used by then. Answers are from sending a key to
the last bytes of what it changed. A bound is met when its ratio is at most 1.
"""

import argparse
import fcntl
import math
import os
import pty
import re
import select
import shutil
import signal
import statistics
import struct
import subprocess
import sys
import sysconfig
import tempfile
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tests.benchmarks.byte_code import with_byte_code
from tests.benchmarks.log_speed import fill
from trainer.practice import sittings
from trainer.practice.cautions import CAUTIONS
from trainer.practice.log import Log
from trainer.session.own_machine import local_now

PROGRAM = Path(sysconfig.get_path("scripts")) / "twinspur"
WIDTH, HEIGHT = 120, 40
FEW_BOUND, MANY_BOUND = 1.6, 2.5
KEY_BOUND_MS = 100.0
PATIENCE = 60.0
NO_ANSWER = 2.0
"""Seconds after which a key has changed nothing: it is not counted."""
QUIET = 0.05
"""Seconds without a byte after which an answer is complete; not counted."""
PEER = """
from textual.app import App
from textual.widgets import Static
class Hello(App):
    def compose(self):
        yield Static("Good morning, guitar")
Hello().run()
"""
GREETING = b"Good morning, guitar"
DUE = rb"20\d\d-\d\d-\d\d"
"""A day in the list's last column, once the record is read: that log's exercises are due some years from now."""
EXERCISE = """+++
title = "{title}"
id = "{id}"
key = "E aeolian"
tags = ["gallop"]
tempo = {{ start = 90, target = {target} }}
+++

## Low road

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a |
6     | 0 0 0 0 0 0 0 0 3 2 0 0 |
```
"""


class Terminal:
    """A program in a pseudo-terminal."""

    def __init__(self, words: list[str], environment: dict[str, str]) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", HEIGHT, WIDTH, 0, 0))
        self.begun = time.perf_counter()
        self.process = subprocess.Popen(
            words, stdin=slave, stdout=slave, stderr=slave, env=environment, start_new_session=True
        )
        os.close(slave)
        self.seen = bytearray()

    def wait_for(self, pattern: bytes) -> float:
        """Seconds from the start of the process until a text (a regular expression) has come."""
        while not re.search(pattern, self.seen):
            if not select.select([self.master], [], [], PATIENCE)[0]:
                raise TimeoutError(f"{pattern!r} did not come; last seen: {bytes(self.seen[-300:])!r}")
            self.seen += os.read(self.master, 65536)
        return time.perf_counter() - self.begun

    def worked(self) -> float:
        """Seconds of processor time that its threads have used; nan where the system does not tell (Linux does)."""
        files = Path(f"/proc/{self.process.pid}/task").glob("*/schedstat")
        return sum(int(file.read_text().split()[0]) for file in files) / 1e9 or math.nan

    def answer(self, key: bytes) -> float | None:
        """Seconds from sending a key to the last byte of what it changed; None where nothing changed."""
        self.settle()
        last = None
        begun = time.perf_counter()
        os.write(self.master, key)
        wait = NO_ANSWER
        while select.select([self.master], [], [], wait)[0]:
            os.read(self.master, 65536)
            last, wait = time.perf_counter(), QUIET
        return None if last is None else last - begun

    def settle(self, seconds: float = 0.25) -> None:
        """Read until nothing comes for a while, or ten times as long where something always comes."""
        end = time.perf_counter() + 10 * seconds
        while time.perf_counter() < end and select.select([self.master], [], [], seconds)[0]:
            self.seen += os.read(self.master, 65536)

    def close(self) -> None:
        """End it in order, so that the next start finds its log settled; by force when it does not end."""
        with suppress(OSError):
            os.write(self.master, b"\x11")
            self.settle(0.5)
        try:
            self.process.wait(3)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
        os.close(self.master)


@contextmanager
def running(words: list[str], environment: dict[str, str]) -> Iterator[Terminal]:
    terminal = Terminal(words, environment)
    try:
        yield terminal
    finally:
        terminal.close()


def player(folder: Path, exercises: int) -> dict[str, str]:
    """The environment of a player who has so many exercises beside the bundled ones, and has read the cautions."""
    shelf = folder / "exercises"
    for number in range(exercises):
        path = shelf / f"{number // 500:02}" / f"bench-{number}.md"
        path.parent.mkdir(parents=True, exist_ok=True)
        text = EXERCISE.format(title=f"Bench {number:05}", id=f"bench-{number}", target=100 + number % 90)
        path.write_text(text, "utf-8")
    data = folder / "twinspur"
    data.mkdir(exist_ok=True)
    if exercises:
        (data / "config.toml").write_text(f'folders = ["{shelf}"]\n', "utf-8")
    with Log.open(data / "log.sqlite", now=local_now) as log:
        for caution in CAUTIONS:
            log.change(sittings.mark_seen, caution.id, 0)
    homes = {f"XDG_{name}_HOME": str(folder) for name in ("CONFIG", "DATA", "STATE", "CACHE")}
    environment = os.environ | homes | {"TERM": "xterm-256color", "COLORTERM": "truecolor", "LANG": "C.UTF-8"}
    return with_byte_code(environment, folder.parent / "byte-code")


def starts(name: str, environment: dict[str, str], title: bytes, bound: float, runs: int, practised: bool) -> None:
    """The peer and the program in turn."""
    took: dict[str, list[float]] = {}
    for run in range(runs + 1):
        figures: dict[str, float] = {}
        with running([sys.executable, "-c", PEER], environment) as terminal:
            figures["peer"] = terminal.wait_for(GREETING)
            figures["peer's work"] = terminal.worked()
        with running([str(PROGRAM)], environment) as terminal:
            figures["first"] = terminal.wait_for(b"Shelf")
            figures["list"] = terminal.wait_for(title)
            figures["work"] = terminal.worked()
            if practised:
                figures["record"] = terminal.wait_for(DUE)
        if run:  # the first ones fill caches, the index and byte code among them
            for key, value in figures.items():
                took.setdefault(key, []).append(1000 * value)
    median = {key: statistics.median(values) for key, values in took.items()}
    peer = median["peer"]
    said = f"; with its record {median['record']:.0f} ms, {median['record'] / peer:.2f}" if practised else ""
    first = f"first paint {median['first']:.0f} ms, {median['first'] / peer:.2f} of the peer"
    print(f"{name}: peer {peer:.0f} ms; {first}; "
          f"with its list {median['list']:.0f} ms{said}")  # fmt: skip
    ratio, work = median["list"] / peer, median["work"] / median["peer's work"]
    print(f"{'  with its list, against the peer':<52}{ratio:8.2f}   bound {bound:6.2f}   ratio {ratio / bound:5.2f}")
    print(f"{'  the same, processor time':<52}{work:8.2f}   bound {bound:6.2f}   ratio {work / bound:5.2f}"
          f"   (load {os.getloadavg()[0]:.1f})", flush=True)  # fmt: skip


KEYS = {
    "shelf": (b"", {"down": b"\x1b[B", "page down": b"\x1b[6~", "type b": b"b", "type e": b"e", "backspace": b"\x7f"}),
    "logbook": (b"\x1bOS", {"down": b"\x1b[B", "right": b"\x1b[C", "page down": b"\x1b[6~", "takes": b"2",
                            "days": b"3", "left": b"\x1b[D", "goals": b"4", "down in goals": b"\x1b[B",
                            "progress": b"1"}),
    "today": (b"\x1b[15~", {"down": b"\x1b[B", "up": b"\x1b[A", "done": b"d"}),
}  # fmt: skip


def answers(environment: dict[str, str], title: bytes, rounds: int) -> None:
    """How long keys take to be answered."""
    for page, (way, keys) in KEYS.items():
        remembered = Path(environment["XDG_STATE_HOME"]) / "twinspur" / "stand.json"
        remembered.unlink(missing_ok=True)  # else the shelf would still show what was typed before
        with running([str(PROGRAM)], environment) as terminal:
            terminal.wait_for(title)
            terminal.settle(3.0)
            if way:
                os.write(terminal.master, way)
                terminal.settle(4.0)
            took: dict[str, list[float]] = {name: [] for name in keys}
            for _ in range(rounds):
                for name, key in keys.items():
                    answer = terminal.answer(key)
                    took[name] += [] if answer is None else [1000 * answer]
            for name, values in took.items():
                if not values:
                    print(f"{page + ': ' + name:<36}changed nothing")
                    continue
                median, most = statistics.median(values), max(values)
                ratio = median / KEY_BOUND_MS
                print(f"{page + ': ' + name:<36}median {median:7.1f}   most {most:7.1f} ms   "
                      f"bound {KEY_BOUND_MS:5.0f}   ratio {ratio:5.2f}", flush=True)  # fmt: skip


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--exercises", type=int, default=10_000)
    parser.add_argument("--passes", type=int, default=1_000_000)
    parser.add_argument("--log", type=Path, help="a log that `log_speed` filled, instead of filling one")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        few = Path(name) / "few"
        few.mkdir()
        starts("the bundled exercises", player(few, 0), b"Against the Tide Mill", FEW_BOUND, options.runs, False)
        many = Path(name) / "many"
        (many / "twinspur").mkdir(parents=True)
        log = many / "twinspur" / "log.sqlite"
        if options.log:
            shutil.copy(options.log, log)
        else:
            fill(log, options.passes, options.exercises)
        environment = player(many, options.exercises)
        told = f"{options.exercises:,} exercises, {options.passes:,} passes"
        starts(told, environment, b"Against the Tide Mill", MANY_BOUND, options.runs, True)
        answers(environment, b"Against the Tide Mill", options.rounds)


if __name__ == "__main__":
    main()
