"""The kept takes as they look, and the stand after a pass that was heard; looked at before they were kept."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.screens.music import HandSink, machine
from tests.screens.settling import settled
from tests.screens.takes_bench import keep_some
from trainer.listening.takes import Takes
from trainer.screens.application import TwinspurApp
from trainer.screens.drawing.pen import ASCII, BOX
from trainer.screens.stand import StandScreen
from trainer.screens.takes import TakesScreen

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])


def showing(folder: Path, theme: str, *keys: str) -> tuple[TwinspurApp, Callable[[Pilot[None]], object]]:
    """An application, and what brings it to its takes."""
    takes = Takes(folder / "takes")
    keep_some(takes)
    pen = ASCII if theme == "ascii" else BOX
    app = TwinspurApp(replace(machine(folder, HandSink(), pen=pen), takes=lambda: takes), "stand")
    app.theme = "no colour" if theme == "ascii" else theme

    async def press(pilot: Pilot[None]) -> None:
        app.open_on_stand("salt-road")
        for _ in range(500):
            await pilot.pause(0.01)
            if isinstance(app.screen, StandScreen) and app.screen.session is not None:
                break
        await pilot.press("T", *keys)
        for _ in range(500):
            await pilot.pause(0.01)
            if isinstance(app.screen, TakesScreen) and app.screen.is_whole:
                break
        await settled(pilot)
        await pilot.pause(0.1)

    return app, press


@SIZES
@pytest.mark.parametrize("theme", ["dark", "light", "high contrast", "no colour", "ascii"])
def test_the_takes(
    snap_compare: Callable[..., bool],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    size: tuple[int, int],
    theme: str,
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    app, press = showing(tmp_path, theme, "down", "down")
    assert snap_compare(app, terminal_size=size, run_before=press)


@SIZES
def test_a_take_beside_an_earlier_one(
    snap_compare: Callable[..., bool], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    app, press = showing(tmp_path, "dark", "c", "c")
    assert snap_compare(app, terminal_size=size, run_before=press)
