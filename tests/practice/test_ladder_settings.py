from fractions import Fraction

import pytest

from trainer.practice.ladder_rules import LadderRules, Step, Way
from trainer.practice.ladder_settings import read_rules


def problems(table: dict[str, object]) -> list[str]:
    rules, found = read_rules(table, start_bpm=92, target_bpm=168, file="iron.md")
    assert isinstance(rules, LadderRules)
    return [str(problem) for problem in found]


def test_an_empty_table_gives_the_defaults() -> None:
    assert read_rules({}, start_bpm=Fraction(92), target_bpm=168) == (LadderRules(92.0, 168.0), ())


@pytest.mark.parametrize(
    ("written", "step"), [("4", Step(4, "bpm")), (4, Step(4, "bpm")), ("3%", Step(3)), (" 2.5 % ", Step(2.5))]
)
def test_a_step_is_written_in_bpm_or_per_cent(written: object, step: Step) -> None:
    rules, found = read_rules({"step": written}, start_bpm=92, target_bpm=168)
    assert rules.step == step and not found


def test_every_key_reads() -> None:
    table = {"start": 80, "target": 150.5, "passes": 2, "miss": 2, "way": "bursts", "over": "6%", "rise": 8}
    rules, found = read_rules(table, start_bpm=92, target_bpm=168)
    assert not found
    assert rules == LadderRules(80, 150.5, passes=2, miss=2, way=Way.BURSTS, over=6, rise=8)


def test_an_unknown_key_names_the_nearest() -> None:
    (told,) = problems({"pases": 2})
    assert told.startswith('iron.md: [ladder] has no key "pases"') and 'Did you mean "passes"' in told


@pytest.mark.parametrize("value", ["a lot", "0%", float("nan"), float("inf"), True, None, [4], "-3%", 1e300])
def test_a_step_that_is_none_says_what_is_allowed_and_leaves_the_default(value: object) -> None:
    rules, found = read_rules({"step": value}, start_bpm=92, target_bpm=168)
    assert rules.step == Step(4.0)
    assert 'bpm as "4" or per cent as "3%", from 0.1 to 50' in str(found[0])


def test_each_wrong_value_is_told_at_once() -> None:
    told = problems({"passes": 0, "miss": 1.5, "way": "lift", "rise": "much"})
    assert len(told) == 4
    assert '"staircase", "alternation", "bursts"' in told[2]


def test_a_ladder_that_leads_down_is_told_and_stands_still() -> None:
    rules, found = read_rules({"target": 60}, start_bpm=92, target_bpm=168)
    assert rules.start_bpm == rules.target_bpm == 92
    assert "leads down, from 92 to 60 bpm" in str(found[0])
