"""Music and a machine for tests of the screens, written short."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from tests.machine import RIG, BenchInputs, BenchOutputs, bench_machine
from tests.playback.riffs import band, exercise
from trainer.arranging.realise import realise_exercise
from trainer.music.exercise import Exercise
from trainer.notation.files import read_file
from trainer.notation.head import Head
from trainer.notation.library import Library
from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.piece import Piece
from trainer.practice.log import Log
from trainer.screens.drawing.pen import BOX, Pen
from trainer.session.machine import Machine
from trainer.session.memory import SessionMemory
from trainer.sounds.rig import Rig

LETTERS = {"guitar 1": "A", "guitar 2": "B", "bass": "C", "drums": "D"}

TWIN = """+++
title = "Salt Road"
id = "salt-road"
key = "E aeolian"
tempo = { start = 100, target = 160 }
+++

Two guitars over a [link](https://example.org) and [b]markup[/b].

## Low gate

The *first* riff.

Let the wrist hang.

Count aloud.

Then play it.

Slow first.

Then a rung up.

Then rest.

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & 4 & | 1 & 2 & 3 & 4 & | 1 & 2 & 3  4 |
5     |                     2 3 |             7 5 3 2 | 7 9 10 9 7 5 7 9 | 7 5 3 2 3~  r |
6     | 0 0 0 0 0 0 0 0 3 2     | 0 0 0 0 0 0         |                 |               |
mute  | = = = = = = = =         | = = = = = =         |                 |               |
pick  | d d u d d u d d u d d u | d d u d d u d d d d | d u d u d u d u | d u d u d     |
```

```harmony guitar 2
follows = "guitar 1"
interval = "third above"
```

```tab bass
count | 1 2 3 4 | 1 2 3 4 | 1 2 3 4 | 1 2 3 4 |
4     | 0 0 0 0 | 0 0 0 0 | 0 0 0 0 | 0 0 0 r |
```

## High gate

```tab guitar 1
count | 1 & 2 & 3 & 4 & | 1 & 2 & 3  4 |
2     | 5 7 8 7 5 3 5 7 | 8 7 5 3 5~ r |
```

```harmony guitar 2
follows = "guitar 1"
interval = "sixth below"
```
"""


def piece(bars: int = 4) -> Piece:
    """A band's riff."""
    riff = band(bars)
    return Piece.of(exercise(riff), (riff,))


class HandSink:
    """A sink whose clock the test turns by hand, and which keeps what it is given until its time."""

    def __init__(self, rate: int = 48000) -> None:
        self.rate, self.min_ahead = rate, 1088
        self.done: list[Event] = []
        self.layout = ChannelLayout(())
        self.closed = self.silenced = False
        self._queue: list[Event] = []
        self._now = 0

    def now(self) -> int:
        return self._now

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        self.layout, self._queue = layout, []

    def send(self, events: Sequence[Event]) -> None:
        self._queue = sorted([*self._queue, *events], key=lambda event: event.frame)

    def withdraw(self) -> None:
        self._queue.clear()

    def withdraw_from(self, frame: int) -> None:
        self._queue = [event for event in self._queue if event.frame < frame]

    def silence(self) -> None:
        self.silenced = True
        self.withdraw()

    def close(self) -> None:
        self.closed = True

    def run_to(self, frame: int) -> None:
        """Let time pass."""
        while self._queue and self._queue[0].frame < frame:
            event = self._queue.pop(0)
            self.done.append(event)
            self.begins(event)
        self._now = max(self._now, frame)

    def begins(self, event: Event) -> None:
        """An event is carried out."""

    def run_for(self, frames: int) -> None:
        """Let so much time pass."""
        self.run_to(self._now + frames)

    def struck(self, part: str) -> list[Event]:
        """The notes of a part that were started."""
        channels = set(self.layout.of_part(part))
        return [each for each in self.done if each.kind in (Kind.NOTE_ON, Kind.CLICK) and each.channel in channels]


class Folder:
    """The exercises of one folder."""

    def __init__(self, folder: Path) -> None:
        self.library = Library([folder])

    def glimpse(self, file: str) -> None:
        return None

    def heads(self) -> tuple[Head, ...]:
        return self.library.heads()

    def find(self, name: str) -> Path:
        return self.library.find(name)

    def read(self, path: Path) -> Exercise:
        return realise_exercise(read_file(path, RIG.patch_names, path.name), path.name)


class Days:
    """A clock of days that goes on by a second whenever it is read."""

    def __init__(self) -> None:
        self.at = datetime(2031, 5, 4, 18, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at


def machine(
    folder: Path,
    sink: Any = None,
    *,
    log: Log | None = None,
    memory: SessionMemory | None = None,
    outputs: BenchOutputs | None = None,
    inputs: BenchInputs | None = None,
    seen: bool = True,
    pen: Pen = BOX,
    trouble: str = "",
    rig: Rig = RIG,
) -> Machine:
    """A machine with one exercise, in a folder of the test's own, on a clock of days."""
    if not (folder / "salt-road.md").exists():
        (folder / "salt-road.md").write_text(TWIN, encoding="utf-8")
    return bench_machine(
        folder,
        Folder(folder),
        now=Days(),
        log=log,
        memory=memory or SessionMemory(folder / "stand.json", gather_s=0),
        outputs=outputs or BenchOutputs(sink or HandSink(), trouble=trouble),
        inputs=inputs,
        seen=seen,
        pen=pen,
        rig=rig,
    )


def seconds(sink: HandSink, bpm: Fraction | int, beats: Fraction | int) -> int:
    """Frames that some quarters take at a tempo."""
    return int(Fraction(beats) * 60 / Fraction(bpm) * sink.rate)
