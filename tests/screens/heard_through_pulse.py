"""A program for the tests: the stand plays my part into a null sink, hears it by its monitor, and judges itself.

Run with a folder, a number of passes, and where calibration is kept the file of the round trips; prints what was heard,
one line of JSON.
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
from trainer.screens.known_late import kept_lateness, nothing_known
from trainer.screens.meter import Meter
from trainer.screens.own_wiring import own_rig, renderer, sound_opener
from trainer.screens.stand import StandScreen
from trainer.settings import Settings


async def until(pilot, true, seconds: float = 40.0) -> None:  # type: ignore[no-untyped-def]
    """Wait until `true()`."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() > end:
            raise TimeoutError(str(true))
        await pilot.pause(0.02)


async def main(folder: Path, passes: int, round_trips: Path | None = None) -> None:
    """Play some passes, and listen."""
    takes, settings = Takes(folder / "takes"), Settings(driver="pulseaudio")
    around = replace(
        wiring(folder),
        open_sound=sound_opener(settings, own_rig),
        open_ear=lambda _: CardEar("pulse", time.monotonic),
        takes=lambda: takes,
        plays_again=renderer(settings),
        known_late=kept_lateness(round_trips) if round_trips else nothing_known,
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
        while len(heard) < passes:
            before = heard[-1] if heard else None
            await until(pilot, lambda before=before: screen.heard and screen.heard.asked is not before)
            assert screen.heard is not None
            ends.append(time.monotonic())
            heard.append(screen.heard.asked)
            verdicts.append([str(screen.heard.judgement.verdict.outcome), *screen.told()])
        overheard = screen.listener._overhears if screen.listener else None
        assert overheard is not None
        await until(pilot, lambda: overheard._passes >= passes)
        await pilot.pause(0.5)  # what it found is told in the listener's thread just after
        await settled(pilot)
        last = screen.heard
        assert last is not None and screen.listener is not None
        began = last.asked.begins + float(60 * 16 / last.asked.music.tempo_bpm)
        where, late = screen._sounding, screen.listener._found.of(None)
        strip = screen.strip()
        told = {
            "where": where.where if where else "", "verdicts": verdicts, "late_ms": round(1000 * late),
            "after_pass_ms": round(1000 * (ends[-1] - began)),
            "marks": len(strip.marks) if strip else 0, "input": screen.listener.ear.name,
            "said": list(screen.listener._said), "warnings": last.judgement.warnings, "habit": last.judgement.habit,
            "measured": last.judgement.verdict.as_dict().get("measured"),
        }  # fmt: skip
        await until(pilot, lambda: len(takes.all()) >= passes)
    print(json.dumps(told), flush=True)


if __name__ == "__main__":
    asyncio.run(main(Path(sys.argv[1]), int(sys.argv[2]), *map(Path, sys.argv[3:])))
