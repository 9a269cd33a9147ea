from datetime import UTC, date, datetime, timedelta
from itertools import groupby, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.practice.assigned import KeptAssignment
from trainer.practice.line import Line
from trainer.practice.plan import Candidate, PlanBlock, Purpose, hardest_bar, plan

TODAY = date(2031, 3, 1)


def candidate(riff: str, part: str = "guitar 1", **facts: object) -> Candidate:
    return Candidate(Line("iron", riff, part), 92.0, 168.0, **facts)  # type: ignore[arg-type]


def pair(riff: str, **facts: object) -> list[Candidate]:
    return [candidate(riff, "guitar 1", **facts), candidate(riff, "guitar 2", **facts)]


DUE = TODAY - timedelta(days=1)
SHELF = [
    *pair("Low road", due=DUE),
    *pair("Beacon", due=DUE),
    *pair("Forge", due=TODAY + timedelta(days=9)),
    *pair("New"),
]


def played(blocks: tuple[PlanBlock, ...]) -> list[PlanBlock]:
    return [block for block in blocks if block.kind is not Purpose.BREAK]


def test_half_an_hour_begins_warm_and_ends_on_something_that_can_be_played() -> None:
    easy = candidate("Anvil", due=TODAY + timedelta(days=5), best_bpm=120.0, clean_share=0.95)
    blocks = plan([*SHELF, easy], 30, TODAY)
    assert (blocks[0].kind, blocks[0].minutes) == (Purpose.WARM_UP, 5)
    assert (blocks[-1].kind, blocks[-1].line, blocks[-1].tempo_bpm) == (Purpose.ENDING, easy.line, 108)
    assert sum(block.minutes for block in blocks) == 30


def test_due_riffs_come_in_turns_and_both_guitars_have_theirs() -> None:
    work = [block.line for block in plan(SHELF, 40, TODAY) if block.kind is Purpose.RIFF]
    assert {line.riff for line in work if line} == {"Low road", "Beacon"}
    assert {line.part for line in work if line} == {"guitar 1", "guitar 2"}
    assert all(one and other and one.riff != other.riff for one, other in pairwise(work))


def test_without_turns_each_line_has_its_block() -> None:
    work = [block.line for block in plan(SHELF, 40, TODAY, in_turns=False) if block.kind is Purpose.RIFF]
    assert len([line for line, _ in groupby(work)]) == len(set(work)) < len(work)


def test_a_hard_bar_comes_alone_right_before_its_riff_and_once() -> None:
    blocks = plan([candidate("Low road", due=DUE, hard_bar=3), candidate("Beacon", due=DUE)], 30, TODAY)
    hard = [number for number, block in enumerate(blocks) if block.kind is Purpose.HARD_BAR]
    assert len(hard) == 1
    alone, riff = blocks[hard[0] : hard[0] + 2]
    assert (alone.bar, alone.line) == (3, riff.line) and riff.kind is Purpose.RIFF


def test_the_longest_due_comes_first_then_new_then_what_is_not_due() -> None:
    work = plan(
        [candidate("New"), candidate("Late", due=TODAY - timedelta(days=30)), candidate("Due", due=TODAY)], 12, TODAY
    )
    assert work[1].line == Line("iron", "Late", "guitar 1")


def test_one_riff_alone_has_both_parts_and_does_not_end_on_them_back_to_back() -> None:
    blocks = plan(pair("Low road", due=DUE), 45, TODAY)
    assert {block.line.part for block in blocks if block.line} == {"guitar 1", "guitar 2"}
    before, last = played(blocks)[-2:]
    assert before.line == last.line


def test_nothing_to_play_or_no_time_is_no_plan() -> None:
    assert plan([], 30, TODAY) == plan(SHELF, 0, TODAY) == ()
    assert [block.kind for block in plan(SHELF, 4, TODAY)] == [Purpose.ENDING]


LINES = st.builds(
    Candidate,
    st.builds(Line, st.just("iron"), st.sampled_from(["a", "b", "c", "d"]), st.sampled_from(["guitar 1", "guitar 2"])),
    st.just(90.0),
    st.just(150.0),
    due=st.none() | st.dates(date(2031, 2, 1), date(2031, 4, 1)),
    best_bpm=st.sampled_from([0.0, 100.0, 130.0]),
    clean_share=st.none() | st.floats(0, 1),
    hard_bar=st.none() | st.integers(1, 8),
)


@settings(deadline=None)
@given(st.lists(LINES, min_size=1, max_size=8, unique_by=lambda c: c.line), st.integers(1, 180), st.booleans())
def test_every_plan_keeps_its_rules(candidates: list[Candidate], minutes: int, in_turns: bool) -> None:
    blocks = plan(candidates, minutes, TODAY, in_turns=in_turns)
    assert plan(candidates[::-1], minutes, TODAY, in_turns=in_turns) == blocks  # the order of the facts does not matter
    assert sum(block.minutes for block in blocks) == minutes
    assert all(block.minutes >= 1 for block in blocks)
    stretch = 0
    for block in blocks:
        stretch = 0 if block.kind is Purpose.BREAK else stretch + block.minutes
        assert stretch <= 32
    assert (minutes > 30) == any(block.kind is Purpose.BREAK for block in blocks)
    assert blocks[-1].kind is Purpose.ENDING
    if minutes >= 5:
        assert blocks[0].kind is Purpose.WARM_UP
        before, last = played(blocks)[-2:]
        assert before.line and last.line and (before.kind is Purpose.WARM_UP or not before.line.is_twin_of(last.line))
    for block, after in pairwise(blocks):
        assert block.kind is not Purpose.HARD_BAR or (after.kind is Purpose.RIFF and after.line == block.line)


def test_the_hardest_bar_is_the_one_missed_and_blamed_most() -> None:
    assert hardest_bar([(1, 9, 1, 0), (3, 5, 2, 2), (4, 5, 4, 0)]) == 3
    assert hardest_bar([(1, 9, 1, 1)]) is None and hardest_bar([]) is None


def asked(riff: str, minutes: int = 0, **more: object) -> KeptAssignment:
    at = datetime(2031, 2, 20, tzinfo=UTC)
    return KeptAssignment(Line("iron", riff, "guitar 1"), 132.0, at, minutes=minutes, **more)  # type: ignore[arg-type]


def test_what_a_teacher_asks_for_comes_right_after_the_warm_up_with_its_bars_tempo_and_minutes() -> None:
    late = TODAY - timedelta(days=1)
    blocks = plan(SHELF, 40, TODAY, assigned=[asked("Forge", 10, bars=(2, 3), by=late, note="Loose."), asked("New")])
    warm, forge, new, *others = played(blocks)
    assert warm.kind is Purpose.WARM_UP
    assert (forge.kind, forge.minutes, forge.bar_words, forge.tempo_bpm) == (Purpose.ASSIGNED, 10, "bars 2-3", 92)
    assert forge.asked is not None
    assert (forge.asked.tempo_bpm, forge.asked.late, forge.asked.note) == (132.0, True, "Loose.")
    assert (new.kind, new.line, new.bar) == (Purpose.ASSIGNED, Line("iron", "New", "guitar 1"), None)
    assert not {forge.line, new.line} & {block.line for block in others if block.kind is Purpose.RIFF}
    assert sum(block.minutes for block in blocks) == 40


def test_a_player_beyond_what_is_asked_for_begins_at_what_is_asked_for() -> None:
    [block] = [
        each
        for each in plan([candidate("Low road", tempo_bpm=150.0)], 12, TODAY, assigned=[asked("Low road")])
        if each.kind is Purpose.ASSIGNED
    ]
    assert block.tempo_bpm == 132


def test_a_teacher_who_asks_for_an_hour_gets_turns_with_breaks_and_never_more_than_there_is() -> None:
    blocks = plan(SHELF, 60, TODAY, assigned=[asked("Low road", 90), asked("Beacon", 10)])
    turns = [block for block in blocks if block.kind is Purpose.ASSIGNED]
    assert {block.line for block in turns} == {Line("iron", "Low road", "guitar 1")}
    assert max(block.minutes for block in turns) <= 20
    assert sum(block.minutes for block in blocks) == 60
    assert any(block.kind is Purpose.BREAK for block in blocks)


def test_a_riff_that_cannot_be_read_is_passed_over() -> None:
    assert plan(SHELF, 30, TODAY, assigned=[asked("Gone")]) == plan(SHELF, 30, TODAY)
