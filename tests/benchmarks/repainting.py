"""Send notes to a MIDI port, alone or beside a Textual screen that repaints fully 30 times a second.

Run by `tests.benchmarks.port_jitter`, on a terminal of its own. Writes what each sender asked for and when it sent it.
"""

import argparse
import json
import os
import sys
import threading
import time
from array import array
from collections.abc import Callable
from itertools import accumulate
from pathlib import Path

from mido import Message, MidiFile, MidiTrack, second2tick
from rich.segment import Segment
from rich.style import Style
from textual.app import App, ComposeResult
from textual.strip import Strip
from textual.widget import Widget

from trainer.playback.channel_layout import Channel, ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.midi_ports import open_output
from trainer.playback.port_sink import PortSink

FRAMES_A_SECOND = 30
AHEAD = 0.5  # seconds that a transport keeps queued
STYLES = [Style.parse(f"color({number}) on color({255 - number})") for number in range(16, 232, 9)]


def numbered(number: int) -> tuple[int, int]:
    """The key and velocity that tell which note this is."""
    return number % 128, 1 + number // 128 % 127


def send_by_process(notes: int, interval: float, folder: Path, ordinary: bool) -> list[float]:
    """Seconds that each note was sent after it was due, by the port sink."""
    stamps = folder / "stamps"
    sink = PortSink("listener", "jack", options=["--stamps", str(stamps), *(["--ordinary"] if ordinary else [])])
    sink.prepare(ChannelLayout((Channel("guitar 1", 1, 0),)), [])
    start, sent = sink.now() + sink.rate // 2, 0
    frames = [start + round(number * interval * sink.rate) for number in range(notes)]
    while sink.now() < frames[-1] + sink.rate // 2:
        reach = sink.now() + AHEAD * sink.rate
        batch = []
        while sent < notes and frames[sent] < reach:
            batch.append(Event(frames[sent], Kind.NOTE_ON, 0, *numbered(sent)))
            sent += 1
        sink.send(batch)
        time.sleep(0.02)
    sink.close()
    times = array("q", stamps.read_bytes())
    return [(done - due) / 1e9 for due, done in zip(times[::2], times[1::2], strict=True)]


def send_by_mido(notes: int, interval: float) -> list[float]:
    """The same, by a loop over mido's own player in a thread of this process."""
    track = MidiTrack()
    for number in range(notes):
        key, velocity = numbered(number)
        ticks = second2tick(interval, 9600, 500_000) if number else 0
        track.append(Message("note_on", note=key, velocity=velocity, time=ticks))
    file = MidiFile(ticks_per_beat=9600, tracks=[track])
    due = list(accumulate(message.time for message in file if not message.is_meta))
    port, _ = open_output("listener", "jack")
    sent = []
    for message in file.play():
        port.send_message(message.bytes())
        sent.append(time.monotonic())
    time.sleep(0.1)
    port.delete()
    return [moment - offset for moment, offset in zip(sent, due, strict=True)]


class Wall(Widget):
    """Every cell changes with every frame."""

    step = 0

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        segments = [
            Segment(chr(65 + (column + y + self.step) % 26) * 4, STYLES[(column + y + self.step) % len(STYLES)])
            for column in range(width // 4)
        ]
        return Strip(segments, width // 4 * 4)


class Repainting(App[None]):
    """A screen that is as busy as a screen can be, and one job in a thread."""

    def __init__(self, job: Callable[[], None]) -> None:
        super().__init__()
        self._job = job
        self.painted = 0

    def compose(self) -> ComposeResult:
        yield Wall()

    def on_mount(self) -> None:
        self.set_interval(1 / FRAMES_A_SECOND, self._repaint)
        threading.Thread(target=self._work, daemon=True).start()

    def _repaint(self) -> None:
        wall = self.query_one(Wall)
        wall.step += 1
        self.painted += 1
        wall.refresh()

    def _work(self) -> None:
        self._job()
        self.call_from_thread(self.exit)


def _end_with(owner: int) -> None:
    """End this process when its owner is gone, however that ended."""
    while os.getppid() == owner:
        time.sleep(0.5)
    os._exit(1)


def main() -> int:
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    parser = argparse.ArgumentParser()
    parser.add_argument("sender", choices=["process", "ordinary", "mido"])
    parser.add_argument("--screen", action="store_true")
    parser.add_argument("--notes", type=int, required=True)
    parser.add_argument("--interval", type=float, required=True, help="seconds between two notes")
    parser.add_argument("--folder", type=Path, required=True)
    arguments = parser.parse_args()
    late: list[float] = []

    def job() -> None:
        if arguments.sender == "mido":
            late.extend(send_by_mido(arguments.notes, arguments.interval))
        else:
            ordinary = arguments.sender == "ordinary"
            late.extend(send_by_process(arguments.notes, arguments.interval, arguments.folder, ordinary))

    begin, painted = time.monotonic(), 0
    if arguments.screen:
        app = Repainting(job)
        app.run()
        painted = app.painted
    else:
        job()
    result = {"late": late, "frames_a_second": painted / (time.monotonic() - begin)}
    (arguments.folder / "result.json").write_text(json.dumps(result))
    return 0


if __name__ == "__main__":
    sys.exit(main())
