"""What is done with kept takes over the stand: heard, marked, deleted, copied."""

from pathlib import Path

import pytest
from textual.widgets import Input, Static

from tests.screens.takes_bench import shown
from trainer.screens.asking import AskLine, Choose
from trainer.screens.stand import StandScreen
from trainer.session.actions import Start
from trainer.session.played_again import Beside


async def test_a_take_is_heard_and_the_stand_is_silent(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        stand = bench.app.screen_stack[-2]
        assert isinstance(stand, StandScreen) and stand.session is not None
        stand.session.apply(Start())
        assert stand.session.running
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        assert not stand.session.running
        assert (bench.heard[0].take.name, bench.heard[0].beside) == (bench.names[4], Beside.PART)
        assert "You hear it with click and part" in bench.text("#playing")
        assert "♪" in bench.text("#list").splitlines()[0]
        await bench.press("w")  # something else beside it, at once
        await bench.until(lambda: len(bench.heard) == 2)
        assert bench.heard[0].closed.wait(5)
        assert bench.heard[1].beside is Beside.CLICK
        await bench.press("space")
        assert bench.heard[1].closed.wait(5)
        assert not bench.screen.player.playing
        await bench.press("w", "down", "enter")
        await bench.until(lambda: len(bench.heard) == 3)
        assert (bench.heard[2].take.name, bench.heard[2].beside) == (bench.names[3], Beside.NOTHING)
        bench.heard[2].ended = True
        await bench.until(lambda: not bench.screen.player.playing)
        assert bench.heard[2].closed.is_set()


@pytest.mark.parametrize("key", ["escape", "T", "f3", "f2", "ctrl+q"])
async def test_what_is_heard_stops_when_the_takes_are_left(tmp_path: Path, key: str) -> None:
    async with shown(tmp_path) as bench:
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        await bench.press(key)
        assert bench.heard[0].closed.wait(5)
        if key in ("escape", "T", "f3"):
            await bench.until(lambda: isinstance(bench.app.screen, StandScreen))


async def test_what_goes_wrong_is_told(tmp_path: Path) -> None:
    async with shown(tmp_path, trouble="No sound [b]card[/b]") as bench:
        await bench.press("space")
        await bench.until(lambda: "No sound [b]card[/b]." in bench.text("#playing"))
        assert not bench.screen.player.playing
    async with shown(tmp_path / "again") as bench:
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        bench.heard[0].gone = "The sound card stopped."
        await bench.until(lambda: "The sound card stopped." in bench.text("#playing"))
        assert bench.heard[0].closed.is_set()


async def test_a_sound_card_that_the_stand_holds_is_let_go_and_taken_again(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        stand = bench.app.screen_stack[-2]
        assert isinstance(stand, StandScreen) and stand.session is not None
        it = stand.session

        bench.holds.append(lambda: it.player.sounding.where != "silence")
        assert it.player.sounding.where == "recorder"
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        assert bench.sink.closed
        await bench.press("escape")
        assert bench.heard[0].closed.wait(5)
        await bench.until(lambda: it.player.sounding.where == "recorder")


async def test_a_take_is_marked_and_the_mark_is_taken_away(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        for marked in (True, False):
            await bench.press("m")
            await bench.until(lambda: bench.screen.takes[0].marked is marked)  # noqa: B023 - at once
            take = bench.takes.take(bench.names[4])
            assert take is not None and take.marked is marked
            assert ("marked" in bench.text("#list").splitlines()[0]) is marked


async def test_a_take_is_deleted_after_asking_once(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        await bench.press("x")
        assert isinstance(bench.app.screen, Choose)
        await bench.press("enter")  # it stays: that is what stands there first
        assert bench.takes.take(bench.names[4]) is not None
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        await bench.press("x", "down", "enter")
        await bench.until(lambda: len(bench.screen.takes) == 4)
        assert bench.heard[0].closed.wait(5)
        assert bench.takes.take(bench.names[4]) is None
        assert bench.screen.chosen is not None and bench.screen.chosen.name == bench.names[3]


async def test_a_take_is_copied_into_a_file(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        await bench.press("e")
        asked = bench.app.screen
        assert isinstance(asked, AskLine)
        for typed, told in (
            ("mine.mid", "Name the whole path"),
            (f"{tmp_path}/mine.wav", "The name must end in .mid"),
            (f"{tmp_path}/none/mine.mid", "There is no such folder"),
            ("~nobody-of-that-name/mine.mid", "Nobody of that name"),
            (f"{tmp_path}/{'n' * 5000}.mid", "This place cannot be used"),
        ):
            asked.query_one(Input).value = typed
            await bench.press("enter")
            assert bench.app.screen is asked
            assert str(asked.query_one("#wrong", Static).content).startswith(told)
        asked.query_one(Input).value = str(tmp_path / "mine.mid")
        await bench.press("enter")
        await bench.until((tmp_path / "mine.mid").exists)
        await bench.until(lambda: "mine.mid" in bench.text("#playing"))
        await bench.press("e")
        bench.app.screen.query_one(Input).value = str(tmp_path / "mine.mid")
        await bench.press("enter")
        assert str(bench.app.screen.query_one("#wrong", Static).content).startswith("This file exists")
