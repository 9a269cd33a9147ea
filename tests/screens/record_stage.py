"""A player's folders, log and application for the tests of shelf, logbook and today; the clock stands still."""

import random
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from tests.machine import RIG, bench_machine
from tests.open_logs import closed_later
from trainer.music.exercise import Exercise
from trainer.notation.head import Head
from trainer.places import bundled
from trainer.practice.days import practice_day
from trainer.practice.goals import Goal, put_goal
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.passes import Pass
from trainer.practice.recording import add_pass
from trainer.practice.verdict import Measured, Outcome, Verdict
from trainer.screens.application import TwinspurApp
from trainer.screens.drawing.pen import BOX, Pen
from trainer.session.machine import Machine
from trainer.session.memory import SessionMemory
from trainer.session.own_machine import ExerciseFiles

NOON = datetime(2031, 3, 14, 12, tzinfo=UTC)
TODAY = practice_day(NOON)
LOW_ROAD = Line("iron-causeway", "Low road", "guitar 1")
FIRE = Line("fifth-beacon", "First fire", "guitar 1")
FIRE_2 = Line("fifth-beacon", "First fire", "guitar 2")
MILL = Line("turning-tide", "Mill wheel", "guitar 1")


@dataclass
class Stage:
    """What a test works with."""

    machine: Machine
    folder: Path
    """The player's own exercises."""

    @property
    def log(self) -> Log:
        return self.machine.log

    def app(self, page: str = "shelf") -> TwinspurApp:
        return TwinspurApp(self.machine, page)

    def write(self, name: str, text: str) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
        return path


class Files(ExerciseFiles):
    """The test's folders; a folder is added without touching anyone's settings."""

    def __init__(self, folders: Sequence[Path], index: Path | None = None) -> None:
        super().__init__(lambda: folders, index, lambda: RIG, "these")
        self.read_whole: list[str] = []
        self.folders = list(folders)

    def read(self, path: Path) -> Exercise:
        self.read_whole.append(path.name)
        return super().read(path)

    def heads(self) -> Sequence[Head]:
        return super().heads()


def stage(
    folder: Path,
    *,
    own: bool = True,
    pen: Pen = BOX,
    log: Log | None = None,
    now: datetime = NOON,
    index: Path | None = None,
    memory: Path | None = None,
) -> Stage:
    """A stage with the bundled exercises and the player's own folder; index and memory are files, or not kept."""
    mine = folder / "mine"
    mine.mkdir(parents=True, exist_ok=True)
    log = log or closed_later(Log.open(folder / "log.sqlite", now=lambda: now, sitting="5" * 32, process=1))
    machine = bench_machine(
        folder,
        Files([mine, bundled("exercises")] if own else [mine], index),
        now=lambda: now,
        log=log,
        memory=SessionMemory(memory, gather_s=0),
        pen=pen,
    )
    return Stage(machine, mine)


def practise(
    log: Log, line: Line = LOW_ROAD, *, days: int = 40, until: int = 1, seed: int = 1, best: float = 96.0
) -> None:
    """Some weeks of practice on a line: slowly faster, ever fewer misses, most of it measured by takes."""
    chance = random.Random(seed)
    number = 0
    passes = []
    for ago in range(days, until - 1, -1):
        if chance.random() < 0.25:
            continue
        day = NOON - timedelta(days=ago)
        tempo = best + 34 * (1 - ago / days) ** 0.7
        for _ in range(chance.randrange(6, 30)):
            number += 1
            outcome = Outcome.CLEAN if chance.random() < 0.75 else Outcome.MISSED
            measured = None
            if chance.random() < 0.6:
                measured = Measured(
                    bias_ms=chance.gauss(-4, 3),
                    spread_ms=abs(chance.gauss(14, 4)),
                    gallop_ratio=chance.gauss(1.9, 0.06),
                    clean_share=min(1.0, chance.gauss(0.93, 0.04)),
                )
            at = day + timedelta(seconds=20 * number % 3000)
            passes.append(
                played(chance, line, at, round(tempo - 3 * chance.random()), Verdict(outcome, measured=measured))
            )
    log.change(add_passes, passes)


def add_passes(db: sqlite3.Connection, passes: Sequence[Pass]) -> None:
    """Log many passes in one transaction: hundreds of them, each flushed to the disk, would take seconds."""
    for one in passes:
        add_pass(db, one)


def played(chance: random.Random, line: Line, at: datetime, tempo: float, verdict: Verdict, **more: Any) -> Pass:
    uuid = UUID(int=chance.getrandbits(128)).hex
    values: dict[str, Any] = {"first_bar": 1, "last_bar": 4, "whole": True, "seconds": 32.0} | more
    return Pass(uuid, at, practice_day(at), line, "a1", tempo_bpm=float(tempo), verdict=verdict, **values)


def want(log: Log, line: Line = LOW_ROAD, target: float = 150.0, number: int = 1, **more: Any) -> Goal:
    """Set a goal."""
    goal = Goal(f"{number:032x}", line, target, more.get("by"), NOON - timedelta(days=30))
    log.change(put_goal, goal)
    return goal
