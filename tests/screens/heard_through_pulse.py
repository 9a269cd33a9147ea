"""A program for the tests: the stand plays my part into a null sink, hears it by its monitor, and judges itself.

Run with a folder; prints what was heard, one line of JSON.
"""

import asyncio
import json
import sys
import time
from dataclasses import replace
from pathlib import Path

from tests.screens.music import wiring
from tests.screens.settling import settled
from trainer.listening.takes import Takes
from trainer.screens.application import TwinspurApp
from trainer.screens.ears import CardEar
from trainer.screens.meter import Meter
from trainer.screens.own_wiring import own_rig, sound_opener
from trainer.screens.stand import StandScreen
from trainer.settings import Settings

PASSES = 2


async def until(pilot, true, seconds: float = 40.0) -> None:  # type: ignore[no-untyped-def]
    """Wait until `true()`."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() > end:
            raise TimeoutError(str(true))
        await pilot.pause(0.02)


async def main(folder: Path) -> None:
    """Play two passes, and listen."""
    takes = Takes(folder / "takes")
    around = replace(
        wiring(folder),
        open_sound=sound_opener(Settings(driver="pulseaudio"), own_rig),
        open_ear=lambda _: CardEar("pulse", time.monotonic),
        takes=lambda: takes,
    )
    app = TwinspurApp(around, "stand")
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        app.open_on_stand("salt-road")
        screen = next(each for each in app.screen_stack if isinstance(each, StandScreen))
        await until(pilot, lambda: screen.practising is not None and screen._sounding is not None)
        it = screen.practising
        assert it is not None
        it.set_tempo(140)
        await pilot.press("j", "D", "L")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Meter))
        await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        await pilot.press("space")
        heard: list[object] = []
        verdicts, ends = [], []
        while len(heard) < PASSES:
            before = heard[-1] if heard else None
            await until(pilot, lambda before=before: screen.heard is not before)
            assert screen.heard is not None
            ends.append(time.monotonic())
            heard.append(screen.heard)
            verdicts.append([str(screen.heard.judgement.verdict.outcome), *screen.told()])
        last = screen.heard
        assert last is not None and screen.listener is not None
        began = last.asked.begins + float(60 * 16 / last.asked.music.tempo_bpm)
        where, late = screen._sounding, screen.listener._late
        strip = screen.strip()
        told = {
            "where": where.where if where else "", "verdicts": verdicts, "late_ms": round(1000 * late),
            "after_pass_ms": round(1000 * (ends[-1] - began)),
            "marks": len(strip.marks) if strip else 0, "input": screen.listener.ear.name,
            "measured": last.judgement.verdict.as_dict().get("measured"),
        }  # fmt: skip
        await until(pilot, lambda: len(takes.all()) == PASSES)
    print(json.dumps(told), flush=True)


if __name__ == "__main__":
    asyncio.run(main(Path(sys.argv[1])))
