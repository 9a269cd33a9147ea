"""The stand as it looks, at two sizes in every theme: what the snapshots hold was looked at.

After a change that is meant, look at the report and run with --snapshot-update.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.screens.music import machine
from trainer.screens.application import TwinspurApp
from trainer.screens.stand import StandScreen
from trainer.screens.themes import THEME_NAMES
from trainer.screens.widgets.rows import Rows


@pytest.mark.parametrize("theme", THEME_NAMES)
@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_the_stand(
    snap_compare: Callable[..., bool],
    tmp_path: Path,
    size: tuple[int, int],
    theme: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    app = TwinspurApp(machine(tmp_path), "stand")
    app.theme = theme

    async def put_on(pilot: Pilot[None]) -> None:
        app.open_on_stand("salt-road")
        for _ in range(200):
            await pilot.pause(0.01)
            screen = app.screen
            if isinstance(screen, StandScreen) and screen.session is not None and screen.sounding is not None:
                break
        await pilot.press("2", "right", "left_square_bracket", "tab", "h")
        for _ in range(200):
            await pilot.pause(0.01)
            if all(rows.rows for rows in app.screen.query(Rows) if rows.display):
                break
        await pilot.pause(0.1)

    assert snap_compare(app, terminal_size=size, run_before=put_on)
