from fractions import Fraction

import pytest

from trainer.practice.ladder_rules import ClimbStyle, LadderRules, Rise, read_parameters, rules_for


def told(table: dict[str, object]) -> list[str]:
    found: list[str] = []
    read_parameters(table, lambda *words: found.append(" ".join(words)))
    return found


def test_an_empty_table_gives_the_defaults() -> None:
    assert rules_for(Fraction(92), 168, {}) == LadderRules(92.0, 168.0)


@pytest.mark.parametrize(
    ("written", "step"),
    [("4", Rise(4, "bpm")), (4, Rise(4, "bpm")), ("3%", Rise(3)), (" 2.5 % ", Rise(2.5))],
)
def test_a_step_is_written_in_bpm_or_per_cent(written: object, step: Rise) -> None:
    assert rules_for(92, 168, {"step": written}).step == step
    assert not told({"step": written})


def test_every_key_reads() -> None:
    table = {"passes": 2, "miss": 2, "style": "bursts", "beyond": "6%", "rise": 8}
    assert not told(table)
    assert rules_for(92, 168, table) == LadderRules(
        92, 168, passes=2, miss=2, style=ClimbStyle.BURSTS, beyond=6, rise=8
    )


def test_the_exercise_stands_over_the_player_and_what_it_leaves_open_is_the_players() -> None:
    rules = rules_for(92, 168, {"passes": 5, "step": "6%"}, {"step": "2", "passes": "often"})
    assert (rules.passes, rules.step) == (5, Rise(2, "bpm"))
    kept = read_parameters({"passes": 5, "step": "6%", "style": "bursts"}, print)
    assert rules_for(92, 168, kept) == rules_for(92, 168, {"passes": 5, "step": "6%", "style": "bursts"})


def test_an_unknown_key_names_the_nearest() -> None:
    (what,) = told({"pases": 2})
    assert what.startswith('pases "pases" is not a key of [ladder]') and 'Did you mean "passes"' in what


@pytest.mark.parametrize("value", ["a lot", "0%", float("nan"), float("inf"), True, None, [4], "-3%", 1e300, 10**400])
def test_a_step_that_is_none_says_what_is_allowed_and_leaves_the_default(value: object) -> None:
    assert rules_for(92, 168, {"step": value}).step == Rise(4.0)
    assert 'bpm as "4" or per cent as "3%", from 0.1 to 50' in told({"step": value})[0]


def test_each_wrong_value_is_told_at_once() -> None:
    found = told({"passes": 0, "miss": 1.5, "style": "lift", "rise": "much"})
    assert len(found) == 4
    assert '"staircase", "alternation", "bursts"' in found[2]


def test_a_ladder_that_leads_down_stands_still() -> None:
    rules = rules_for(92, 60)
    assert rules.start_bpm == rules.target_bpm == 92
