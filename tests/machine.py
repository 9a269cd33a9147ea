"""The machine that tests run on: real log, rig and takes in a folder of the test's own, and sound by its hand."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path

from tests.open_logs import closed_later
from trainer.listening.sound import Sound
from trainer.listening.takes import KeptTake, Takes
from trainer.playback.plan import Plan
from trainer.playback.sink import Sink
from trainer.playback.timeline import Timeline
from trainer.practice.cautions import CAUTIONS
from trainer.practice.log import Log
from trainer.practice.sittings import mark_seen
from trainer.screens.drawing.pen import BOX, Pen
from trainer.session.inputs import Input
from trainer.session.latency import CalibratedLatency
from trainer.session.lazy import Lazy
from trainer.session.machine import Exercises, Machine, Replay, Sounding
from trainer.session.memory import SessionMemory
from trainer.session.pedal_watch import Source
from trainer.session.played_again import Beside
from trainer.session.silent_sink import SilentSink
from trainer.settings import Settings
from trainer.sounds.load_patches import load_patches
from trainer.sounds.rig import Rig

RIG = load_patches()


def unheard(take: KeptTake, beside: Beside) -> Replay:
    """No take shall be heard."""
    raise AssertionError(take.name)


@dataclass(frozen=True)
class BenchOutputs:
    """One sink, whatever port is asked for."""

    sink: Sink
    where: str = "recorder"
    trouble: str = ""
    hear: Callable[[KeptTake, Beside], Replay] = unheard

    def names(self) -> Sequence[str]:
        return ()

    def open(self, port: str) -> Sounding:
        return Sounding(self.sink, self.where, self.trouble)

    def render_again(self, timeline: Timeline, plan: Plan, start: Fraction) -> Sound | None:
        return None

    def hear_again(self, take: KeptTake, beside: Beside) -> Replay:
        return self.hear(take, beside)


@dataclass(frozen=True)
class BenchInputs:
    """One input whatever its name, and one source of MIDI messages; without them, none shall be opened."""

    input: Input | None = None
    source: Source | None = None
    ports: Sequence[str] = ()
    latency: Callable[[Input, Sounding], CalibratedLatency | None] = lambda _input, _sounding: None

    def names(self) -> Sequence[str]:
        return self.ports

    def open(self, name: str) -> Input:
        assert self.input is not None, name
        return self.input

    def open_midi(self, name: str) -> Source:
        assert self.source is not None, name
        return self.source

    def latency_of(self, opened: Input, sounding: Sounding) -> CalibratedLatency | None:
        return self.latency(opened, sounding)


def bench_machine(
    folder: Path,
    exercises: Exercises,
    *,
    now: Callable[[], datetime],
    log: Log | None = None,
    memory: SessionMemory | None = None,
    outputs: BenchOutputs | None = None,
    inputs: BenchInputs | None = None,
    seen: bool = True,
    pen: Pen = BOX,
    rig: Rig = RIG,
) -> Machine:
    """A machine for a test.

    Args:
        folder: where log and takes are.
        exercises: those the player has.
        now: the local time.
        log: the practice log; else one in memory.
        memory: what is remembered between starts; else nothing is written down.
        outputs: where it sounds; else in silence.
        inputs: through what the player is heard; else through nothing.
        seen: whether the cautions were put away.
        pen: what the terminal can draw.
        rig: the patches.
    """
    log = log or closed_later(Log.open(None, now=now, sitting="5" * 32))
    if seen:
        for caution in CAUTIONS:
            log.change(mark_seen, caution.id, 1)
    takes = Takes(folder / "takes")
    return Machine(
        exercises=exercises,
        open_log=Lazy(lambda: log),
        memory=memory or SessionMemory(None, gather_s=0),
        settings=Settings,
        load_rig=lambda: rig,
        takes=lambda: takes,
        outputs=outputs or BenchOutputs(SilentSink(), "silence"),
        inputs=inputs or BenchInputs(),
        clock=time.monotonic,
        now=now,
        encoding="utf-8" if pen is BOX else "ascii",
    )
