"""The real program with one thing exchanged: what sounds is written to a file, each event when its time comes.

Run with the file's path; the player's folders are those of the environment (XDG).
"""

import json
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.screens.application import run
from trainer.session.machine import Sounding
from trainer.session.own_machine import open_machine
from trainer.session.own_sound import OwnOutputs

RATE = 48000


class FileSink:
    """Carries events out by the clock, into lines of JSON: seconds, kind, part, key, velocity."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("a", encoding="utf-8", buffering=1)
        self._lock = threading.RLock()
        self._queue: list[Event] = []
        self._layout = ChannelLayout(())
        self._origin = time.monotonic()
        self.rate, self.min_ahead = RATE, RATE // 100
        self._file.write(json.dumps([self._origin, "ORIGIN", "", 0, 0]) + "\n")

    def now(self) -> int:
        with self._lock:
            now = int((time.monotonic() - self._origin) * RATE)
            while self._queue and self._queue[0].frame <= now:
                self._write(self._queue.pop(0))
            return now

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        with self._lock:
            self._layout, self._queue = layout, []

    def send(self, events: Sequence[Event]) -> None:
        with self._lock:
            self._queue = sorted([*self._queue, *events], key=lambda event: event.frame)

    def withdraw(self) -> None:
        with self._lock:
            self.now()
            self._queue.clear()

    def withdraw_from(self, frame: int) -> None:
        with self._lock:
            self._queue = [event for event in self._queue if event.frame < frame]

    def silence(self) -> None:
        with self._lock:
            self._queue.clear()
            self._file.write(json.dumps([time.monotonic() - self._origin, "SILENCE", "", 0, 0]) + "\n")

    def close(self) -> None:
        self.silence()

    def _write(self, event: Event) -> None:
        part = self._layout.channels[event.channel].part if event.channel < len(self._layout.channels) else ""
        if event.kind in (Kind.NOTE_ON, Kind.NOTE_OFF, Kind.CLICK):
            self._file.write(json.dumps([event.frame / RATE, event.kind.name, part, event.one, event.two]) + "\n")


class FileOutputs(OwnOutputs):
    """The player's own, but for what sounds."""

    def open(self, port: str) -> Sounding:
        return Sounding(FileSink(Path(sys.argv[1])), "recorder")


if __name__ == "__main__":
    made = open_machine()
    sys.exit(run(replace(made, outputs=FileOutputs(made.settings, made.load_rig, made.exercises))))
