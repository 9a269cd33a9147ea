"""Today's plan on the screen: planned for the minutes there are, opened block by block, marked as it is played."""

import random
from datetime import timedelta
from pathlib import Path

from textual.pilot import Pilot

from tests.screens.record_stage import LOW_ROAD, NOON, TODAY, Stage, played, practise, stage
from tests.screens.settling import settled
from trainer.practice.plan import Kind
from trainer.practice.verdict import CLEAN, Outcome, Reason, Verdict
from trainer.screens.asking import AskLine, Notice
from trainer.screens.choices import Way
from trainer.screens.stand import StandScreen
from trainer.screens.today import TodayScreen
from trainer.screens.widgets.row_list import RowList


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
        assert today.plan.blocks[0].kind is Kind.WARM_UP
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
        assert Kind.BREAK in [block.kind for block in today.plan.blocks]


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
        assert stand.practising is not None
        assert block.line is not None
        standing = stand.practising.standing
        assert standing.stood.line(standing.mine) == block.line
        assert standing.tempo_bpm == block.tempo_bpm
        assert standing.choices.way is Way.PLAIN
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
        at = kinds.index(Kind.HARD_BAR)
        today.query_one(RowList).move_to(at)
        await pilot.press("enter")
        await settled(pilot)
        stand = pilot.app.screen
        assert isinstance(stand, StandScreen)
        assert stand.practising is not None
        assert (stand.practising.standing.loop.first, stand.practising.standing.loop.last) == (1, 1)
        await pilot.press("f5", "down")
        await pilot.press("enter")
        await settled(pilot)
        assert stand.practising.standing.chosen_loop == stand.practising.standing.stood.whole
        assert stand.practising.standing.choices.way is Way.LADDER


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
        assert again.states[0] == ""


async def test_a_break_tells_what_rest_is_good_for(tmp_path: Path) -> None:
    ready = practised(tmp_path)
    ready.wiring.memory.put("today", {"day": "2000-01-01", "minutes": 60, "in_turns": True})
    async with ready.app("today").run_test(size=(80, 24)) as pilot:
        today = await opened(pilot)
        at = [block.kind for block in today.plan.blocks].index(Kind.BREAK)
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
