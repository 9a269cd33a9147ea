"""The README's pictures, drawn from the real screens: `python -m tests.pictures` writes them into `.github`.

`tests/test_pictures.py` holds that they are what this draws.
"""

import asyncio
import re
import sys
import tempfile
from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import textual.app
import textual.pilot
from textual.pilot import Pilot

from tests.machine import RIG, BenchInputs, BenchOutputs, bench_machine
from tests.open_logs import close_all
from tests.screens.music import HandSink
from tests.screens.record_stage import LOW_ROAD, NOON, TODAY, Files, practise, stage, want
from tests.screens.settling import loop_idle, settled
from tests.screens.test_heard_snapshots import KeysEar
from tests.screens.test_stand import Hall
from trainer.places import bundled
from trainer.screens.application import TwinspurApp
from trainer.screens.meter import LevelMeter

FOLDER = Path(__file__).parents[1] / ".github"
SIZE = (110, 34)
THEMES = ("dark", "light")
FONT = "ui-monospace, SFMono-Regular, Menlo, Consolas, monospace"


async def stand(folder: Path, theme: str) -> str:
    """Two guitars on the stand, in the second bar of a pass."""
    return await _played("lamplighters", folder, theme, KeysEar(), _second_bar)


async def verdict(folder: Path, theme: str) -> str:
    """A gallop after a pass that was heard: what was late, and one thing to do about it."""
    return await _played("iron-causeway", folder, theme, KeysEar(), _heard)


async def logbook(folder: Path, theme: str) -> str:
    """Some weeks of a riff in the logbook, with its goal."""
    ready = stage(folder)
    practise(ready.log, LOW_ROAD)
    want(ready.log, LOW_ROAD, by=TODAY + timedelta(days=60))
    app = ready.app("logbook")
    app.theme = theme
    async with app.run_test(size=SIZE) as pilot:
        await settled(pilot, 6)
        return app.export_screenshot(title="Twinspur")


PICTURES: dict[str, Callable[[Path, str], Awaitable[str]]] = {"stand": stand, "verdict": verdict, "logbook": logbook}


async def _played(
    exercise: str, folder: Path, theme: str, ear: KeysEar, act: Callable[[Hall, KeysEar], Awaitable[None]]
) -> str:  # fmt: skip
    sink = HandSink()
    around = bench_machine(
        folder, Files([bundled("exercises")]), now=lambda: NOON, rig=RIG,
        outputs=BenchOutputs(sink, "synth"), inputs=BenchInputs(ear),
    )  # fmt: skip
    app = TwinspurApp(replace(around, clock=lambda: sink.now() / sink.rate), "stand")
    app.theme = theme
    async with app.run_test(size=SIZE) as pilot:
        hall = ear.hall = Hall(app, pilot, sink)
        app.open_on_stand(exercise)
        await _come(pilot, lambda: hall.screen.session is not None and hall.screen.sounding is not None)
        await hall.press("k", "k")
        await act(hall, ear)
        await settled(pilot)
        return app.export_screenshot(title="Twinspur")


async def _second_bar(hall: Hall, ear: KeysEar) -> None:
    await hall.press("space")
    await hall.run(6)


async def _heard(hall: Hall, ear: KeysEar) -> None:
    await hall.press("L", "enter")
    await _come(hall.pilot, lambda: isinstance(hall.app.screen, LevelMeter))
    await hall.press("enter")
    await _come(hall.pilot, lambda: hall.screen.hearing.on)
    await hall.press("space")
    while not hall.it.state.passes:
        await hall.run(1)
    await _come(hall.pilot, lambda: hall.screen.hearing.heard is not None)
    await hall.press("space")


async def _come(pilot: Pilot[None], true: Callable[[], object]) -> None:
    for _ in range(6000):
        await pilot.pause(0.01)
        if true():
            return
    raise TimeoutError


def without_fonts(svg: str) -> str:
    """The picture with a font of the reader's own: nothing in it is fetched from anywhere."""
    svg = re.sub(r"@font-face\s*{[^}]*}", "", svg)
    svg = re.sub(r"font-family: [^;]*;", f"font-family: {FONT};", svg)
    svg = re.sub(r"[ \t]+$", "", svg, flags=re.M)
    return re.sub(r"\n{2,}", "\n", svg).strip() + "\n"


def drawn(name: str, theme: str) -> str:
    """One picture."""
    before = textual.pilot.wait_for_idle, textual.app.wait_for_idle
    textual.pilot.wait_for_idle = textual.app.wait_for_idle = loop_idle
    try:
        with tempfile.TemporaryDirectory() as folder:
            return without_fonts(asyncio.run(PICTURES[name](Path(folder), theme)))
    finally:
        close_all()
        textual.pilot.wait_for_idle, textual.app.wait_for_idle = before


def main() -> int:
    """Write all of them."""
    FOLDER.mkdir(exist_ok=True)
    for name in PICTURES:
        for theme in THEMES:
            (FOLDER / f"{name}-{theme}.svg").write_text(drawn(name, theme), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
