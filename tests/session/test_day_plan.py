"""A day's plan as it is kept, and what of it is done."""

import json
from datetime import date, timedelta

from trainer.practice.line import Line
from trainer.practice.plan import PlanBlock, Purpose
from trainer.screens.drawing.pen import ASCII, BOX
from trainer.screens.drawing.plan_rows import about, summary, time_line
from trainer.session.day_plan import KEPT_PLAN, USUAL_MINUTES, DayPlan, made_anew, next_block, plan_of, states
from trainer.session.memory import MemoryKey, SessionMemory
from trainer.values import plain

TODAY = date(2031, 3, 14)
LEAD = Line("iron-causeway", "Low road", "guitar 1")
OTHER = Line("heron-steps", "Wading", "guitar 1")
BLOCKS = (
    PlanBlock(Purpose.WARM_UP, 5, LEAD, None, 60),
    PlanBlock(Purpose.HARD_BAR, 1, OTHER, 3, 90),
    PlanBlock(Purpose.RIFF, 4, OTHER, None, 90),
    PlanBlock(Purpose.BREAK, 5),
    PlanBlock(Purpose.RIFF, 10, LEAD, None, 100),
)
PLAN = DayPlan(TODAY, 25, True, BLOCKS, frozenset({3}), frozenset({1}), ((LEAD, 30.0),))


def kept(values: object) -> DayPlan:
    memory = SessionMemory(None)
    memory.put(MemoryKey[object]("today", None), values)
    return plan_of(memory.get(KEPT_PLAN), TODAY)


def test_a_plan_is_kept_and_found_again_on_the_same_day() -> None:
    assert kept(json.loads(json.dumps(plain(PLAN)))) == PLAN


def test_the_next_day_keeps_the_minutes_alone() -> None:
    tomorrow = TODAY + timedelta(days=1)
    assert plan_of(PLAN, tomorrow) == DayPlan(tomorrow, 25)


def test_what_is_not_understood_gives_an_empty_plan() -> None:
    blocks = ([["solo", 3, None, None, None]], [["riff", 3, ["one"], None, None]], 7)
    odd = [*({"blocks": each} for each in blocks), {"minutes": 10**9}]
    for values in (None, 3, [], {}, {"day": "x"}, *(plain(PLAN) | each for each in odd)):
        assert (kept(values).blocks, kept(values).minutes) == ((), USUAL_MINUTES)


def test_another_plan_keeps_what_is_done() -> None:
    begun = made_anew(PLAN, {LEAD: 400.0}, 45, False)
    assert [block.kind for block in begun.blocks] == [Purpose.WARM_UP, Purpose.BREAK]
    assert (begun.minutes, begun.in_turns, states(begun, {})) == (45, False, ("done", "done"))


def test_play_fills_a_lines_blocks_in_their_order() -> None:
    plan = DayPlan(TODAY, 25, True, BLOCKS)
    assert states(plan, {}) == ("", "", "", "", "")
    assert states(plan, {LEAD: 60.0}) == ("begun", "", "", "", "")
    assert states(plan, {LEAD: 181.0}) == ("done", "", "", "", "")
    assert states(plan, {LEAD: 300.0 + 360.0, OTHER: 61.0}) == ("done", "done", "begun", "", "done")


def test_what_was_played_before_the_plan_does_not_count() -> None:
    plan = DayPlan(TODAY, 25, True, BLOCKS, before=((LEAD, 500.0),))
    assert states(plan, {LEAD: 500.0})[0] == ""
    assert states(plan, {LEAD: 700.0})[0] == "done"


def test_the_players_word_goes_before_the_record() -> None:
    plan = DayPlan(TODAY, 25, True, BLOCKS)
    assert states(plan.toggled(0, True), {})[0] == "done"
    assert states(plan.toggled(0, False), {LEAD: 300.0})[0] == "begun"
    assert states(plan.toggled(0, True).toggled(0, False), {})[0] == ""
    assert states(plan.toggled(3, True), {})[3] == "done"


def test_the_next_block_is_the_first_that_is_not_done() -> None:
    assert next_block(("done", "begun", "")) == 1
    assert next_block(("done", "done")) == 0
    assert next_block(()) == 0


def test_the_line_of_time_fills_what_is_done_and_leaves_breaks_open() -> None:
    line = time_line(BLOCKS, [True, False, False, False, False], 1, 52, BOX).text
    assert line[1:10] == "▰" * 9
    assert line[20:30].strip() == ""
    assert time_line(BLOCKS, [True] * 5, 1, 52, ASCII).text.isascii()


def test_the_plan_in_words() -> None:
    assert summary(BLOCKS, [True, False, False, False, False]) == "25 minutes, 5 of them rest. Done: 5, to go: 20."
    assert "enough for today" in summary(BLOCKS, [True] * 5)
    assert about(BLOCKS[1], {}) == "Bar 3 by itself, before its riff."
    assert about(BLOCKS[2], {"heron-steps": "Heron Steps"}).startswith("Wading from Heron Steps, for 4 minutes")
    assert "hands hang" in about(BLOCKS[3], {})


def test_what_is_done_is_all_that_a_new_plan_goes_on_from() -> None:
    plan = DayPlan(TODAY, 25, True, BLOCKS, ticked=frozenset({1, 3}), unticked=frozenset({0}))
    kept = plan.only([1, 3])
    assert kept.blocks == (BLOCKS[1], BLOCKS[3])
    assert states(kept, {}) == ("done", "done")
    assert (kept.minutes, kept.in_turns, kept.day) == (plan.minutes, plan.in_turns, plan.day)
