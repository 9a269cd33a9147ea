"""Kept takes and their window in an application, for tests of both."""

import json
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from tests.machine import BenchOutputs
from tests.screens.music import HandSink, machine
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import KeptTake, Takes
from trainer.music.problem import Problem, ProblemsError
from trainer.practice.verdict import Judge, Measured, Outcome, Reason, Verdict
from trainer.screens.application import TwinspurApp
from trainer.screens.stand import StandScreen
from trainer.screens.takes import TakesScreen
from trainer.screens.widgets.rows import Rows
from trainer.session.played_again import Beside
from trainer.session.replay import NotOpenedError

NOTES = MidiTake(tuple(MidiNote(Fraction(k, 8), 40, 0, 90) for k in range(8)))
LINE = {"exercise": "salt-road", "riff": "Low gate", "part": "guitar 1", "tempo_bpm": 120.0, "first_bar": 1,
        "last_bar": 4, "passes": 1, "start_s": 0.15}  # fmt: skip
LATE = Reason("The gallop's last sixteenth is 14 ms late from bar 3 on.", 3, "1 a", "second sixteenth")
LOST = Reason("Bar 2 lost its second note.", 2, "1 &")
MISSED = Verdict(Outcome.MISSED, Judge.TAKE, (LATE, LOST), Measured(3.0, 14.0, 1.0, 1.86, 1.8, 1.9, 0.8, 44, 43, 1))
CLEAN = Verdict(Outcome.CLEAN, Judge.TAKE, (), Measured(-1.0, 7.0, 0.0, 1.98, 1.9, 2.05, 1.0, 44, 44))
LOST_TRACK = Verdict(Outcome.UNJUDGED, Judge.TAKE, (Reason("Could not match this take: it is quiet."),))
MARKS = ["bar 2, count 1 &: not heard", "bar 3, count 1 a: 14 ms late", "bar 3, count 2 a: 15 ms late",
         "bar 4, count 2: 9 ms early", "bar 4, count 3: another pitch"]  # fmt: skip
FIRST = datetime(2031, 5, 3, 18, 0, 0, tzinfo=UTC)


def keep_one(takes: Takes, number: int, verdict: Verdict | None, marks: list[str] | None, **about: Any) -> str:
    """Keep a take of so many minutes after the first one."""
    kept = takes.keep(NOTES, None, TakeInfo.from_json({**LINE, **about}), FIRST + timedelta(minutes=number))
    path = takes.folder / f"{kept.name}.json"
    values = json.loads(path.read_text("utf-8")) | {"verdict": verdict.as_dict() if verdict else None}
    path.write_text(json.dumps(values | ({} if marks is None else {"marks": marks})), "utf-8")
    return kept.name


def keep_some(takes: Takes) -> list[str]:
    """Five takes of the riff and part, the newest last, and three others."""
    names = [
        keep_one(takes, 0, LOST_TRACK, []),
        keep_one(takes, 1, MISSED, MARKS),
        keep_one(takes, 2, CLEAN, []),
        keep_one(takes, 3, MISSED, MARKS, tempo_bpm=132.0, unfinished=True, last_bar=3),
        keep_one(takes, 4, MISSED, MARKS, tempo_bpm=132.0),
    ]
    takes.mark(names[2])
    keep_one(takes, 5, CLEAN, None, part="guitar 2")
    keep_one(takes, 6, CLEAN, [], riff="", form=True, last_bar=6)
    keep_one(takes, 7, MISSED, MARKS, exercise="[b]other[/b]\x1b[2J")
    return names


@dataclass
class BenchReplay:
    """A take that sounds until it is closed."""

    take: KeptTake
    beside: Beside
    ended: bool = False
    gone: str = ""
    closed: threading.Event = field(default_factory=threading.Event)

    def close(self) -> None:
        self.closed.set()


@dataclass
class Bench:
    """The window in an application, and what was heard."""

    app: TwinspurApp
    pilot: Pilot[None]
    takes: Takes
    names: list[str]
    heard: list[BenchReplay]
    sink: HandSink
    holds: list[Callable[[], bool]]
    """Say whether something else holds the sound card."""

    @property
    def screen(self) -> TakesScreen:
        screen = self.app.screen
        assert isinstance(screen, TakesScreen)
        return screen

    async def press(self, *keys: str) -> None:
        for key in keys:
            await self.pilot.press(key)
            await self.pilot.pause()

    async def until(self, true: Callable[[], object]) -> None:
        for _ in range(1000):
            await self.pilot.pause(0.01)
            if true():
                return
        raise TimeoutError

    def text(self, name: str) -> str:
        return "\n".join(row.text.rstrip() for row in self.screen.query_one(name, Rows).rows)


@asynccontextmanager
async def shown(folder: Path, size: tuple[int, int] = (80, 24), trouble: str = "") -> AsyncIterator[Bench]:
    takes, sink, heard = Takes(folder / "takes"), HandSink(), list[BenchReplay]()
    holds: list[Callable[[], bool]] = []

    def hear(take: KeptTake, beside: Beside) -> BenchReplay:
        if trouble:
            raise ProblemsError([Problem("", 0, 0, trouble)])
        if any(held() for held in holds):
            raise NotOpenedError([Problem("", 0, 0, "The sound card's output cannot be opened")])
        heard.append(BenchReplay(take, beside))
        return heard[-1]

    names = keep_some(takes)
    app = TwinspurApp(machine(folder, outputs=BenchOutputs(sink, hear=hear)), "stand")
    async with app.run_test(size=size) as pilot:
        bench = Bench(app, pilot, takes, names, heard, sink, holds)
        app.open_on_stand("salt-road")
        await bench.until(lambda: isinstance(app.screen, StandScreen) and app.screen.session is not None)
        await bench.press("T")
        await bench.until(lambda: isinstance(app.screen, TakesScreen) and app.screen.is_whole)
        yield bench
