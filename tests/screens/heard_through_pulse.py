"""A program for the tests: the stand plays my part into a null sink, hears it by its monitor, and judges itself.

Run with a folder, a number of passes, and where calibration is kept the file of the round trips; prints what was heard,
one line of JSON.
"""

import asyncio
import json
import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import textual.app
import textual.pilot

from tests.machine import BenchInputs
from tests.screens.music import machine
from tests.screens.settling import loop_idle, settled
from trainer.screens.application import TwinspurApp
from trainer.screens.meter import LevelMeter
from trainer.screens.stand import StandScreen
from trainer.session.actions import SetTempo
from trainer.session.inputs import CardInput, Input
from trainer.session.latency import CalibratedLatency, calibrated_latency
from trainer.session.machine import Sounding
from trainer.session.own_machine import load_own_rig
from trainer.session.own_sound import OwnOutputs
from trainer.settings import Settings


async def until(pilot, true, seconds: float = 60.0) -> None:  # type: ignore[no-untyped-def]
    """Wait until `true()`."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() > end:
            raise TimeoutError(str(true))
        await pilot.pause(0.02)


async def main(folder: Path, passes: int, round_trips: Path | None = None) -> None:
    """Play some passes, and listen."""
    made = machine(folder)
    settings = Settings(driver="pulseaudio")
    outputs = OwnOutputs(lambda: settings, load_own_rig, made.exercises)

    def latency(opened: Input, sounding: Sounding) -> CalibratedLatency | None:
        return calibrated_latency(round_trips, opened, sounding) if round_trips else None

    inputs = BenchInputs(CardInput("pulse", time.monotonic), latency=latency)
    around = replace(made, settings=lambda: settings, outputs=outputs, inputs=inputs)
    app = TwinspurApp(around, "stand")
    textual.pilot.wait_for_idle = textual.app.wait_for_idle = loop_idle
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        app.open_on_stand("salt-road")
        screen = next(each for each in app.screen_stack if isinstance(each, StandScreen))
        await until(pilot, lambda: screen.session is not None and screen.sounding is not None)
        it = screen.session
        assert it is not None
        it.apply(SetTempo(Fraction(140)))
        await pilot.press("j", "D", "L")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, LevelMeter))
        await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        await pilot.press("space")
        heard: list[object] = []
        verdicts, ends = [], []
        while len(heard) < passes:
            before = heard[-1] if heard else None
            await until(pilot, lambda before=before: screen.hearing.heard and screen.hearing.heard.of is not before)
            assert screen.hearing.heard is not None
            ends.append(time.monotonic())
            heard.append(screen.hearing.heard.of)
            verdicts.append([str(screen.hearing.heard.judgement.verdict.outcome), *screen.hearing.told()])
        overheard = it.listening.engine._loop_check if it.listening.engine else None
        assert overheard is not None
        await until(pilot, lambda: overheard.passes >= passes)
        await pilot.pause(0.5)  # what it found is told in the listener's thread just after
        await settled(pilot)
        last = screen.hearing.heard
        engine = it.listening.engine
        assert last is not None and engine is not None
        began = last.of.begins + float(60 * 16 / last.of.passage.tempo_bpm)
        where, late = screen.sounding, engine.latency.seconds(None)
        told = {
            "where": where.where if where else "", "verdicts": verdicts, "late_ms": round(1000 * late),
            "after_pass_ms": round(1000 * (ends[-1] - began)),
            "input": engine.source.name,
            "said": list(engine._said), "warnings": last.judgement.warnings, "habit": last.judgement.habit,
            "measured": last.judgement.verdict.as_dict().get("measured"),
        }  # fmt: skip
        await until(pilot, lambda: len(made.takes().all()) >= passes)
    print(json.dumps(told), flush=True)


if __name__ == "__main__":
    asyncio.run(main(Path(sys.argv[1]), int(sys.argv[2]), *map(Path, sys.argv[3:])))
