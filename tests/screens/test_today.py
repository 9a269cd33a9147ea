"""Today's plan on the screen: planned for the minutes there are, opened block by block, marked as it is played."""

import random
from datetime import date, timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from tests.screens.record_stage import LOW_ROAD, NOON, TODAY, Stage, played, practise, stage
from tests.screens.settling import settled
from trainer.practice.assigned import KeptAssignment, set_assignments
from trainer.practice.plan import Purpose
from trainer.practice.verdict import CLEAN, Outcome, Reason, Verdict
from trainer.screens.asking import AskLine, Notice
from trainer.screens.stand import StandScreen
from trainer.screens.today import TodayScreen
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import DrawnPanel
from trainer.session.choices import Method
from trainer.session.day_plan import KEPT_PLAN, DayPlan


async def opened(pilot: Pilot[None]) -> TodayScreen:
    screen = pilot.app.screen
    assert isinstance(screen, TodayScreen)
    await settled(pilot)
    return screen


def text_of(screen: TodayScreen) -> str:
    return "\n".join(row.text for row in screen.query_one(RowList).rows)


async def test_the_plan_fills_the_minutes_and_begins_with_a_warm_up(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        assert sum(block.minutes for block in today.plan.blocks) == 30
        assert today.plan.blocks[0].kind is Purpose.WARM_UP
        assert "warm-up" in text_of(today)
        assert "Low road" in text_of(today)


def practised(folder: Path) -> Stage:
    ready = stage(folder)
    practise(ready.log)
    return ready


async def test_more_minutes_less_minutes_and_typed_minutes(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        await pilot.press("plus")
        await settled(pilot)
        assert (today.plan.minutes, sum(block.minutes for block in today.plan.blocks)) == (35, 35)
        await pilot.press("minus", "minus")
        await settled(pilot)
        assert today.plan.minutes == 25
        await pilot.press("m")
        assert isinstance(pilot.app.screen, AskLine)
        await pilot.press("backspace", "backspace", "x", "enter")
        assert isinstance(pilot.app.screen, AskLine)
        await pilot.press("backspace", "9", "0", "enter")
        await settled(pilot)
        assert today.plan.minutes == 90
        assert Purpose.BREAK in [block.kind for block in today.plan.blocks]


async def test_riffs_one_after_the_other_instead_of_in_turns(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        before = today.plan.blocks
        await pilot.press("t")
        await settled(pilot)
        assert not today.plan.in_turns
        assert today.plan.blocks != before


async def test_a_block_opens_the_stand_at_its_riff_part_and_tempo(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        block = today.plan.blocks[0]
        await pilot.press("enter")
        await settled(pilot)
        stand = pilot.app.screen
        assert isinstance(stand, StandScreen)
        assert stand.session is not None
        assert block.line is not None
        standing = stand.session.state
        assert standing.loaded.line(standing.mine) == block.line
        assert standing.tempo_bpm == block.tempo_bpm
        assert standing.choices.method is Method.PLAIN
        assert standing.whole


async def test_a_hard_bar_opens_alone_and_its_riff_whole_again_on_the_ladder(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    chance = random.Random(3)
    for number in range(6):
        at = NOON - timedelta(days=2, seconds=60 * number)
        blamed = Verdict(Outcome.MISSED, reasons=(Reason("Bar 2 is late.", 2),))
        ready.log.add(played(chance, LOW_ROAD, at, 120, blamed))
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        kinds = [block.kind for block in today.plan.blocks]
        at = kinds.index(Purpose.HARD_BAR)
        today.query_one(RowList).move_to(at)
        await pilot.press("enter")
        await settled(pilot)
        stand = pilot.app.screen
        assert isinstance(stand, StandScreen)
        assert stand.session is not None
        assert (stand.session.state.loop.first, stand.session.state.loop.last) == (1, 1)
        await pilot.press("f5", "down")
        await pilot.press("enter")
        await settled(pilot)
        assert stand.session.state.chosen_loop == stand.session.state.loaded.whole
        assert stand.session.state.choices.method is Method.LADDER


async def test_a_block_is_done_once_it_was_played_and_the_plan_stays(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        plan = today.plan.blocks
        line = plan[0].line
        assert line is not None
        ready.log.add(played(random.Random(1), line, NOON, 90, CLEAN, seconds=60.0))
        await pilot.press("f2")
        await pilot.press("f5")
        await settled(pilot)
        assert today.plan.blocks == plan
        assert today.states[0] == "begun"
        ready.log.add(played(random.Random(2), line, NOON, 90, CLEAN, seconds=200.0))
        await pilot.press("f2")
        await pilot.press("f5")
        await settled(pilot)
        assert today.states[0] == "done"
        assert "done" in text_of(today)


async def test_done_by_hand_goes_on_to_the_next_and_is_found_again(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        await pilot.press("space")
        assert today.states[0] == "done"
        assert today.query_one(RowList).cursor == 1
        await pilot.press("up", "d")
        assert today.states[0] == ""
        await pilot.press("space")
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        again = await opened(pilot)
        assert again.plan.day == TODAY
        assert again.states[0] == "done"
        assert again.query_one(RowList).cursor == 1
        await pilot.press("n")
        await settled(pilot)
        assert again.states[0] == "done"
        assert "done" not in again.states[1:]
        assert sum(block.minutes for block in again.plan.blocks) == 30


@pytest.mark.parametrize("key", ["n", "plus", "t"])
async def test_a_block_can_be_marked_while_another_plan_is_made(tmp_path: Path, key: str) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        warm_up = today.plan.blocks[0]
        await pilot.press(key, "space")
        await settled(pilot)
        assert (today.plan.blocks[0], today.states[0]) == (warm_up, "done")
        assert "done" in text_of(today)
        await pilot.press(key)
        await settled(pilot)
        assert (today.plan.blocks[0], today.states[0]) == (warm_up, "done")


async def test_minutes_that_are_no_number_are_asked_for_again(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        await pilot.press("m")
        ask = pilot.app.screen
        ask.query_one(Input).value = "²"
        await pilot.press("enter")
        assert pilot.app.screen is ask
        await pilot.press("escape")
        assert today.plan.minutes == 30


async def test_a_break_tells_what_rest_is_good_for(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    ready.machine.memory.put(KEPT_PLAN, DayPlan(date(2000, 1, 1), 60))
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        at = [block.kind for block in today.plan.blocks].index(Purpose.BREAK)
        today.query_one(RowList).move_to(at)
        await pilot.press("enter")
        assert isinstance(pilot.app.screen, Notice)
        await pilot.press("enter")
        await settled(pilot)
        assert today.states[at] == "done"


async def test_first_last_and_a_second_click_that_opens(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        await pilot.press("end")
        assert today.query_one(RowList).cursor == len(today.plan.blocks) - 1
        await pilot.press("home")
        await pilot.click("#list", offset=(10, 1))
        assert today.query_one(RowList).cursor == 1
        await pilot.click("#list", offset=(10, 1))
        await settled(pilot)
        assert isinstance(pilot.app.screen, StandScreen)


async def test_nothing_to_play_is_told(tmp_path: Path) -> None:
    ready = stage(tmp_path, own=False)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        assert "nothing to play" in today.query_one("#about").rows[0].text  # type: ignore[attr-defined]
        await pilot.press("enter", "space", "escape")
        assert pilot.app.screen.page == "shelf"  # type: ignore[attr-defined]


async def test_what_a_teacher_asks_for_comes_first_with_the_note_and_opens_its_bars(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    task = KeptAssignment(
        LOW_ROAD,
        132.0,
        NOON,
        teacher="Ines",
        bars=(1, 2),
        by=TODAY - timedelta(days=1),
        minutes=10,
        note="[b]Loose[/b]",
    )
    ready.log.change(set_assignments, "week.toml", [task], 1)
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        assert today.plan.blocks[1].kind is Purpose.ASSIGNED
        assert "assigned" in text_of(today) and "Low road, bars 1-2" in text_of(today)
        await pilot.press("down")
        about = " ".join(row.text.strip() for row in today.query_one("#about", DrawnPanel).rows)
        assert "Ines asks for 132 bpm by 2031-03-13, which is over" in about and '"[b]Loose[/b]"' in about
        await pilot.press("enter")
        await settled(pilot)
        stand = pilot.app.screen
        assert isinstance(stand, StandScreen) and stand.session is not None
        loop = stand.session.state.loop
        assert (loop.first, loop.last) == (0, 1)
    kept = ready.machine.memory.get(KEPT_PLAN)
    assert kept is not None and kept.blocks[1].asked is not None and kept.blocks[1].asked.teacher == "Ines"
