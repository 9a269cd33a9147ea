"""Nothing plays where the player neither sees it nor can stop it."""

from fractions import Fraction
from pathlib import Path

import pytest

from tests.screens.music import seconds
from tests.screens.settling import settled
from tests.screens.test_stand import Hall, standing
from trainer.screens.widgets.page_lines import PageTop
from trainer.session.actions import Start
from trainer.session.session import PracticeSession


@pytest.mark.parametrize("keys", [("escape",), ("f4",), ("T", "f2")], ids=" ".join)
async def test_leaving_the_stand_plays_the_pass_to_its_end_and_stops(tmp_path: Path, keys: tuple[str, ...]) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("k", "k", "space")
        await hall.run(17)
        session = hall.it
        assert session.running
        await hall.press(*keys)
        assert hall.app.current_mode != "stand" and session.running
        top = hall.app.screen.query_one(PageTop)
        assert "♪ Low gate 100 · pass 2  ctrl space stops" in top.rows[0].text
        await pass_by(hall, session, 16)
        assert not session.running and session.state.passes == 2
        await settled(hall.pilot)
        assert "♪" not in top.rows[0].text


async def pass_by(hall: Hall, session: PracticeSession, beats: int) -> None:
    """Let music pass while another screen is shown."""
    end = hall.sink.now() + seconds(hall.sink, Fraction(session.state.tempo_bpm), beats)
    while hall.sink.now() < end:
        hall.sink.run_for(2400)
        session.player.step()
    await hall.pilot.pause()


async def test_one_key_stops_it_from_any_screen_and_any_window(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        session = hall.it
        await hall.press("k", "k")
        for keys in ((), ("t",), ("f4",), ("f2", "g"), ("f5", "f1")):
            await hall.press("f3")
            await settled(hall.pilot)
            session.apply(Start())
            await hall.run(1)
            await hall.press(*keys)
            assert session.running, keys
            await hall.press("ctrl+at")
            assert not session.running, keys
            await hall.press("escape", "f3")


async def test_what_is_only_counted_in_stops_when_the_stand_is_left(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("space")
        await hall.run(2)
        session = hall.it
        await hall.press("escape")
        assert not session.running and session.state.passes == 0


async def test_a_question_over_the_stand_does_not_stop_the_playing(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("space", "t")
        await hall.pilot.pause(0.1)
        assert hall.it.running
        await hall.press("escape")
        assert hall.it.running
