"""The music is drawn again only where something of it changes."""

from pathlib import Path

import pytest

from tests.screens.test_stand import standing


async def test_another_tempo_or_mix_draws_the_panel_and_leaves_the_tab_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with standing(tmp_path) as hall:
        drawn = []
        show = hall.screen.panes.show_music
        monkeypatch.setattr(hall.screen.panes, "show_music", lambda *a, **k: (drawn.append(1), show(*a, **k)))
        await hall.press("up", "h", "c")
        await hall.pilot.pause(0.1)
        assert hall.it.state.tempo_bpm == 101 and "101 → 160" in hall.text("#panel")
        assert not drawn
        await hall.press("v")
        await hall.pilot.pause(0.1)
        assert drawn
