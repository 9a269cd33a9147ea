"""What opens on the screens: explanation, neck, help, palette, the first cautions; looked at before it was kept.

After a change that is meant, look at the report and run with --snapshot-update.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.screens.music import machine
from tests.screens.settling import settled
from trainer.screens.application import TwinspurApp
from trainer.screens.drawing.pen import ASCII, BOX, Pen
from trainer.screens.stand import StandScreen
from trainer.screens.themes import THEME_NAMES
from trainer.screens.widgets.rows import Rows

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., TwinspurApp]:
    monkeypatch.delenv("NO_COLOR", raising=False)

    def made(theme: str = THEME_NAMES[0], *, seen: bool = True, pen: Pen = BOX, page: str = "stand") -> TwinspurApp:
        app = TwinspurApp(machine(tmp_path, seen=seen, pen=pen), page)
        app.theme = theme
        return app

    return made


def pressing(*keys: str, stand: bool = True) -> Callable[[Pilot[None]], object]:
    """With the exercise on the stand, press some keys and wait until all is drawn."""

    async def press(pilot: Pilot[None]) -> None:
        screen = pilot.app.screen
        if stand:
            assert isinstance(pilot.app, TwinspurApp)
            pilot.app.open_on_stand("salt-road")
            for _ in range(300):
                await pilot.pause(0.01)
                screen = pilot.app.screen
                if isinstance(screen, StandScreen) and screen.session is not None and screen.sounding is not None:
                    break
        await pilot.press(*keys)
        await settled(pilot)
        for _ in range(300):
            await pilot.pause(0.01)
            if all(rows.rows for rows in pilot.app.screen.query(Rows) if rows.display):
                break
        await pilot.pause(0.1)

    return press


@SIZES
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_the_explanation(
    snap_compare: Callable[..., bool], app: Callable[..., TwinspurApp], size: tuple[int, int], theme: str
) -> None:
    assert snap_compare(app(theme), terminal_size=size, run_before=pressing("x"))


@SIZES
def test_the_neck(snap_compare: Callable[..., bool], app: Callable[..., TwinspurApp], size: tuple[int, int]) -> None:
    assert snap_compare(app(), terminal_size=size, run_before=pressing("n", "2"))


def test_a_large_window_is_used(snap_compare: Callable[..., bool], app: Callable[..., TwinspurApp]) -> None:
    assert snap_compare(app(), terminal_size=(200, 60), run_before=pressing("2"))


@SIZES
@pytest.mark.parametrize("theme", THEME_NAMES)
def test_the_help(
    snap_compare: Callable[..., bool], app: Callable[..., TwinspurApp], size: tuple[int, int], theme: str
) -> None:
    assert snap_compare(app(theme), terminal_size=size, run_before=pressing("f1"))


def test_the_palette(snap_compare: Callable[..., bool], app: Callable[..., TwinspurApp]) -> None:
    assert snap_compare(app(), terminal_size=(80, 24), run_before=pressing("ctrl+p", *"tempo"))


@SIZES
def test_the_cautions(
    snap_compare: Callable[..., bool], app: Callable[..., TwinspurApp], size: tuple[int, int]
) -> None:
    first = app(seen=False, page="today")
    assert snap_compare(first, terminal_size=size, run_before=pressing(stand=False))


def test_without_utf8(snap_compare: Callable[..., bool], app: Callable[..., TwinspurApp]) -> None:
    assert snap_compare(app(pen=ASCII), terminal_size=(80, 24), run_before=pressing("n", "f1"))
