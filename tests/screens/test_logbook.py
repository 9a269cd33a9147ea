"""The logbook on the screen: what it tells of a line, its views, its goals, and carrying the record out."""

import csv
import json
import random
from datetime import date, timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from tests.open_logs import closed_later
from tests.screens.record_stage import FIRE_2, LOW_ROAD, MILL, NOON, TODAY, Stage, played, practise, stage, want
from tests.screens.settling import notices, settled
from trainer.practice import goals as kept_goals
from trainer.practice.goals import GoalState
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.verdict import CLEAN
from trainer.screens.asking import AskLine, Choose
from trainer.screens.drawing.pen import ASCII
from trainer.screens.logbook import LogbookScreen
from trainer.screens.stand import StandScreen
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import DrawnPanel


async def opened(pilot: Pilot[None]) -> LogbookScreen:
    screen = pilot.app.screen
    assert isinstance(screen, LogbookScreen)
    await settled(pilot, 6)
    return screen


def content(screen: LogbookScreen, name: str = "#content") -> str:
    return "\n".join(row.text.rstrip() for row in screen.query_one(name, DrawnPanel).rows)


def rows(screen: LogbookScreen, name: str = "#list") -> list[str]:
    return [row.text.rstrip() for row in screen.query_one(name, RowList).rows]


@pytest.fixture
def ready(tmp_path: Path) -> Stage:
    made = stage(tmp_path)
    practise(made.log)
    practise(made.log, FIRE_2, days=15, until=3, seed=3, best=80)
    return made


async def test_the_best_tempo_over_time_is_plotted_against_the_target(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        told = content(logbook)
        assert "Iron Causeway · Low road · guitar 1" in told
        assert "target 168" in told
        assert "Best clean tempo 129 bpm" in told
        assert any("\u2800" < char <= "\u28ff" for char in told)
        assert "Feb" in told


async def test_lines_of_an_exercise_open_under_it_played_or_not(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        assert [row[4:24].strip() for row in rows(logbook)[1:3]] == ["Low road, guitar 1", "Wet stones, guitar 1"]
        await pilot.press("down", "down", "down")
        await settled(pilot)
        assert [row[2:26].strip() for row in rows(logbook)[1:6]] == [
            "Hand the Torch",
            "First fire, guitar 2",
            "First fire, guitar 1",
            "Second fire, guitar 1",
            "Second fire, guitar 2",
        ]
        await pilot.press("down")
        await settled(pilot)
        assert logbook.facts is not None
        assert logbook.facts.line == FIRE_2
        assert "guitar 2" in content(logbook)


async def test_right_and_left_go_from_exercise_to_exercise(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        await pilot.press("right")
        await settled(pilot)
        assert logbook.item is not None
        assert logbook.item.title == "Hand the Torch"
        await pilot.press("right")
        await settled(pilot)
        assert logbook.item.title == "Against the Tide Mill"
        assert "Nothing is recorded of it yet" in content(logbook)
        await pilot.press("left", "left")
        await settled(pilot)
        assert logbook.item is not None
        assert logbook.item.title == "Iron Causeway"
        await pilot.press("end", "home", "pagedown", "pageup")
        await settled(pilot)
        assert logbook.item.title == "Iron Causeway"


async def test_views_by_key_by_tab_and_by_mouse(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        for key, view in (("2", "takes"), ("3", "days"), ("4", "goals"), ("1", "progress"), ("tab", "takes")):
            await pilot.press(key)
            assert logbook.view == view
            assert f"[{view}]" in logbook.query_one("#views", DrawnPanel).rows[0].text
        await pilot.press("shift+tab")
        assert logbook.view == "progress"
        await pilot.click("#views", offset=(26, 0))
        assert logbook.view == "days"


async def test_takes_are_told_over_time_and_against_tempo(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(120, 40)) as pilot:
        logbook = await opened(pilot)
        await pilot.press("2")
        told = content(logbook)
        assert "2031-03-13" in told
        assert "129 bpm" in told
        assert "spread in ms" in told
        await pilot.press("v", "v")
        assert "gallop, long to short" in content(logbook)
        assert "target 2" in content(logbook)


async def test_the_calendar_tells_of_each_day(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(80, 24)) as pilot:
        logbook = await opened(pilot)
        await pilot.press("3")
        assert "Fri 2031-03-14: nothing played" in content(logbook)
        await pilot.press("up")
        assert "Thu 2031-03-13:" in content(logbook)
        assert "pass" in content(logbook).split("Thu 2031-03-13")[1].splitlines()[0]
        await pilot.press("left")
        assert logbook.day == date(2031, 3, 6)
        await pilot.press("right", "right")
        assert logbook.day == TODAY
        await pilot.press("pageup")
        assert logbook.day == TODAY - timedelta(weeks=4)
        await pilot.press("home")
        assert logbook.day < date(2031, 2, 4)
        await pilot.press("end")
        assert logbook.day == TODAY
        await pilot.click("#content", offset=(5, 1))
        assert logbook.day.weekday() == 0


async def test_a_goal_is_set_told_with_its_date_given_up_taken_up_and_reached(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        await pilot.press("down", "a")
        ask = pilot.app.screen
        assert isinstance(ask, AskLine)
        await pilot.press(*"fast", "enter")
        assert pilot.app.screen is ask
        ask.query_one(Input).value = "140 2031-06-01"
        await pilot.press("enter")
        await settled(pilot, 6)
        (goal,) = ready.log.ask(kept_goals.goals)
        assert (goal.line, goal.target_bpm, goal.by) == (LOW_ROAD, 140.0, date(2031, 6, 1))
        assert "target 140" in content(logbook)
        await pilot.press("4")
        assert "140" in rows(logbook, "#goals")[0]
        assert "four chances in five" in content(logbook)
        for key, state in (("x", GoalState.GIVEN_UP), ("u", GoalState.KEPT), ("r", GoalState.REACHED)):
            await pilot.press(key)
            await settled(pilot, 6)
            assert ready.log.ask(kept_goals.goals)[0].state is state
        assert "reached 2031-03-14" in rows(logbook, "#goals")[0]


async def test_several_goals_and_the_stand_from_one_of_them(ready: Stage) -> None:
    want(ready.log, number=1, target=150)
    want(ready.log, FIRE_2, number=2, target=120)
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        await pilot.press("4", "down")
        assert logbook.chosen_goal is not None
        assert logbook.chosen_goal.goal.line == FIRE_2
        assert "120 bpm" in content(logbook)
        await pilot.press("enter")
        await settled(pilot)
        stand = pilot.app.screen
        assert isinstance(stand, StandScreen)
        assert stand.session is not None
        assert stand.session.state.mine == "guitar 2"


async def test_finding_an_exercise(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        await pilot.press("f", *"qqq", "enter")
        assert isinstance(pilot.app.screen, AskLine)
        pilot.app.screen.query_one(Input).value = "heron"
        await pilot.press("enter")
        await settled(pilot)
        assert logbook.item is not None
        assert logbook.item.title == "Heron Steps"


@pytest.mark.parametrize("ending", ["json", "csv"])
async def test_the_record_is_exported(ready: Stage, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"out.{ending}"
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        await opened(pilot)
        await pilot.press("e")
        ask = pilot.app.screen
        assert isinstance(ask, AskLine)
        ask.query_one(Input).value = str(tmp_path / "out.txt")
        await pilot.press("enter")
        assert pilot.app.screen is ask
        ask.query_one(Input).value = str(path)
        await pilot.press("enter")
        await settled(pilot)
    text = path.read_text("utf-8")
    found = json.loads(text)["passes"] if ending == "json" else list(csv.DictReader(text.splitlines()))
    assert len(found) > 100


async def test_an_export_replaces_a_file_only_when_asked_to(ready: Stage, tmp_path: Path) -> None:
    path = tmp_path / "kept.json"
    path.write_text("mine", "utf-8")
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        await opened(pilot)
        for keys, whole in ((["enter"], False), (["down", "enter"], True)):
            await pilot.press("e")
            pilot.app.screen.query_one(Input).value = str(path)
            await pilot.press("enter")
            await pilot.pause()
            assert isinstance(pilot.app.screen, Choose)
            await pilot.press(*keys)
            await settled(pilot)
            assert (path.read_text("utf-8") != "mine") is whole


async def export_to(pilot: Pilot[None], path: Path) -> None:
    await pilot.press("e")
    pilot.app.screen.query_one(Input).value = str(path)
    await pilot.press("enter")
    await settled(pilot)


async def test_an_export_that_cannot_be_written_is_told(ready: Stage) -> None:
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        await opened(pilot)
        await export_to(pilot, Path("/proc/out.json"))
        assert "cannot be written" in notices(pilot)


async def test_an_empty_log_says_what_will_stand_here(tmp_path: Path) -> None:
    empty = stage(tmp_path, own=False)
    async with empty.app("logbook").run_test(size=(80, 24)) as pilot:
        logbook = await opened(pilot)
        assert "Nothing is recorded yet" in content(logbook)
        await pilot.press("2", "3", "4")
        assert "No goals yet" in content(logbook)
        await pilot.press("a", "x", "enter", "1", "enter", "right", "down", "escape")
        assert pilot.app.screen.page == "shelf"  # type: ignore[attr-defined]


async def test_a_line_whose_file_is_gone_keeps_its_record(ready: Stage) -> None:
    lost = Line("lost-[b]file", "Riff \x1b[31m", "guitar 1")
    ready.log.add(played(random.Random(9), lost, NOON, 111, CLEAN))
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        assert "lost-[b]file" in content(logbook)
        assert "\x1b" not in content(logbook) + "".join(rows(logbook))
        assert "111" in content(logbook)


async def test_a_log_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    told: list[object] = []
    blocked = tmp_path / "file"
    blocked.write_text("", "utf-8")
    log = closed_later(Log.open(blocked / "log.sqlite", now=lambda: NOON, tell=told.append))
    ready = stage(tmp_path, log=log)
    practise(ready.log, MILL, days=10)
    async with ready.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        assert told
        assert "in memory only" in logbook.query_one("#title", DrawnPanel).rows[0].text
        assert "Against the Tide Mill" in content(logbook)
        await export_to(pilot, tmp_path / "out.json")
    assert (tmp_path / "out.json").exists()


async def test_a_damaged_log_is_kept_aside_and_told(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    path.write_bytes(b"no database at all" * 500)
    told: list[object] = []
    log = closed_later(Log.open(path, now=lambda: NOON, tell=told.append))
    ready = stage(tmp_path, log=log)
    async with ready.app("logbook").run_test(size=(80, 24)) as pilot:
        logbook = await opened(pilot)
        assert "kept as" in str(told[0])
        assert "Nothing is recorded" in content(logbook)


@pytest.mark.parametrize("size", [(20, 5), (40, 12), (80, 24), (120, 40), (200, 60)])
async def test_it_holds_in_any_window(ready: Stage, size: tuple[int, int]) -> None:
    want(ready.log, by=TODAY + timedelta(days=90))
    async with ready.app("logbook").run_test(size=size) as pilot:
        logbook = await opened(pilot)
        await pilot.press("2", "3", "left", "4", "down", "1", "down")
        await pilot.resize_terminal(80, 24)
        await settled(pilot)
        assert "Low road" in content(logbook)


async def test_a_wide_window_shows_calendar_and_goals_beside(ready: Stage) -> None:
    want(ready.log)
    async with ready.app("logbook").run_test(size=(200, 60)) as pilot:
        logbook = await opened(pilot)
        aside = content(logbook, "#aside")
        assert "Days of practice in a row" in aside
        assert "150  Iron Causeway" in aside


async def test_without_utf_8_it_is_drawn_in_ascii(tmp_path: Path) -> None:
    plain = stage(tmp_path, pen=ASCII)
    practise(plain.log)
    async with plain.app("logbook").run_test(size=(100, 30)) as pilot:
        logbook = await opened(pilot)
        for key in "1234":
            await pilot.press(key)
            assert content(logbook).isascii()
