import itertools
import json
import random
import statistics
from dataclasses import replace
from datetime import date, timedelta
from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.practice.players import SimulatedPlayer, settles_at
from trainer.practice.ladder import Instead, Ladder, Word, sentence
from trainer.practice.ladder_rules import PARAMETERS, ClimbStyle, LadderRules, Rise
from trainer.practice.verdict import Outcome

DAY = date(2031, 3, 1)
CLEAN, MISSED, UNJUDGED = Outcome.CLEAN, Outcome.MISSED, Outcome.UNJUDGED
OUTCOMES = st.lists(st.sampled_from([CLEAN, CLEAN, CLEAN, MISSED, UNJUDGED]), max_size=120)


def rules(**changes: object) -> LadderRules:
    return replace(LadderRules(92.0, 168.0), **changes)  # type: ignore[arg-type]


def after(ladder: Ladder, *outcomes: Outcome) -> Ladder:
    for outcome in outcomes:
        ladder = ladder.after(outcome)
    return ladder


def test_every_parameter_has_a_default_within_its_bounds_and_a_source() -> None:
    given_rules = rules()
    for parameter in PARAMETERS:
        assert getattr(given_rules, parameter.name) == parameter.default
        assert parameter.source


def test_three_clean_passes_in_a_row_earn_the_next_rung() -> None:
    ladder = after(Ladder.begin(rules(), DAY), CLEAN, CLEAN)
    assert ladder.rung.tempo_bpm == 92 and ladder.word is Word.STAY
    ladder = ladder.after(CLEAN)
    assert ladder.rung.tempo_bpm == round(92 * 1.04) and ladder.word is Word.UP


def test_a_miss_costs_one_step_and_the_run() -> None:
    ladder = after(Ladder.begin(rules(), DAY), CLEAN, CLEAN, MISSED, CLEAN, CLEAN)
    assert ladder.tempo_bpm == pytest.approx(92 / 1.04)


def test_a_miss_may_cost_the_run_only() -> None:
    assert after(Ladder.begin(rules(miss=0), DAY), CLEAN, CLEAN, MISSED).tempo_bpm == 92


@settings(deadline=None)
@given(OUTCOMES)
def test_unjudged_passes_count_for_nothing(outcomes: list[Outcome]) -> None:
    with_them = after(Ladder.begin(rules(), DAY), *outcomes)
    assert with_them == after(Ladder.begin(rules(), DAY), *(o for o in outcomes if o is not UNJUDGED))


@settings(deadline=None)
@given(OUTCOMES, st.sampled_from(list(ClimbStyle)), st.floats(40, 200), st.floats(1, 30))
def test_it_never_suggests_more_than_the_stated_rise_in_a_day(
    outcomes: list[Outcome], style: ClimbStyle, start: float, rise: float
) -> None:
    ladder = Ladder.begin(LadderRules(start, start * 2, style=style, rise=rise, passes=1), DAY, loop_bars=4)
    for outcome in outcomes:
        ladder = ladder.after(outcome)
        assert ladder.rung.tempo_bpm <= max(start * (1 + rise / 100), round(start))
        assert ladder.tempo_bpm >= ladder.rules.lowest_bpm - 1e-9


def test_a_day_that_rose_enough_says_so_and_the_next_day_climbs_on() -> None:
    ladder = after(Ladder.begin(rules(passes=1), DAY), *[CLEAN] * 10)
    assert ladder.word is Word.ENOUGH and ladder.rung.tempo_bpm == 103  # 92 and 12 % is 103.04
    tomorrow = ladder.on(DAY + timedelta(days=1))
    assert tomorrow.rung.tempo_bpm == 99  # one step under where it ended
    assert after(tomorrow, *[CLEAN] * 10).rung.tempo_bpm == 115  # 103.04 and 12 %


def test_a_step_halves_at_each_reversal_down_to_the_smallest_worthwhile_one() -> None:
    ladder = Ladder.begin(rules(step=Rise(12), passes=1, rise=100), DAY)
    heights = [ladder.step.amount]
    for outcome in (CLEAN, MISSED, CLEAN, MISSED, CLEAN):
        ladder = ladder.after(outcome)
        heights.append(ladder.step.amount)
    assert heights == [12, 12, 6, 3, 2.5, 2.5]


def test_climbing_on_and_on_brings_the_full_step_back() -> None:
    ladder = after(Ladder.begin(rules(step=Rise(8), passes=1, rise=100), DAY), CLEAN, MISSED, CLEAN)
    assert ladder.step.amount == 2.5
    assert after(ladder, CLEAN, CLEAN, CLEAN).step.amount == 4
    assert after(replace(ladder, rules=rules(step=Rise(8), passes=1, widen=0, rise=100)), *[CLEAN] * 8).halvings == 2


def test_steps_may_be_beats_per_minute() -> None:
    ladder = after(Ladder.begin(rules(step=Rise(5, "bpm"), passes=1), DAY), CLEAN)
    assert ladder.rung.tempo_bpm == 97


def test_target_and_last_rung_are_never_stepped_over() -> None:
    rungs = rules().rungs()
    assert 168.0 in rungs and rungs[-1] == pytest.approx(168 * 1.04)
    assert all(low < high for low, high in itertools.pairwise(rungs))


def test_a_target_is_owned_when_the_rung_over_it_is_clean() -> None:
    ladder = Ladder.begin(rules(passes=1), DAY, from_bpm=162)
    ladder = ladder.after(CLEAN)
    assert ladder.rung.tempo_bpm == 168 and not ladder.target_clean
    ladder = ladder.after(CLEAN)
    assert ladder.word is Word.TARGET and ladder.target_clean and not ladder.owned
    assert ladder.rung.tempo_bpm == 175
    ladder = ladder.after(CLEAN)
    assert ladder.word is Word.OWNED and ladder.owned and ladder.rung.tempo_bpm == 175
    assert "168 bpm is yours" in sentence(ladder)


def test_misses_in_a_row_mean_not_now_and_something_else_each_time() -> None:
    ladder = Ladder.begin(rules(), DAY)
    seen = []
    for _ in range(5):
        ladder = after(ladder, MISSED, MISSED, MISSED)
        assert ladder.word is Word.DOWN
        ladder = ladder.after(MISSED)
        assert ladder.word is Word.NOT_NOW and sentence(ladder).startswith("Not now. ")
        seen.append(ladder.instead)
    assert seen == [Instead.SLOWER, Instead.FEWER_BARS, Instead.OTHER_PART, Instead.REST, Instead.REST]


def test_a_clean_pass_between_breaks_the_row_of_misses() -> None:
    ladder = after(Ladder.begin(rules(), DAY), MISSED, MISSED, MISSED, CLEAN, MISSED)
    assert ladder.word is Word.DOWN and ladder.misses == 1


def test_the_ladder_follows_a_tempo_the_player_chose_and_suggests_no_further_rise() -> None:
    ladder = Ladder.begin(rules(passes=1), DAY).at(140)
    assert ladder.rung.tempo_bpm == 140
    assert ladder.after(CLEAN).rung.tempo_bpm == 140 and ladder.after(CLEAN).word is Word.ENOUGH
    assert ladder.after(MISSED).rung.tempo_bpm == 135


def test_alternation_plays_rung_and_highest_tempo_in_turn_and_only_the_rung_moves() -> None:
    ladder = Ladder.begin(rules(style=ClimbStyle.ALTERNATION, passes=1), DAY)
    assert ladder.rung[:] == (92, None, True)
    ladder = ladder.after(CLEAN)
    assert ladder.rung[:] == (103, None, False)
    assert ladder.after(MISSED).rung[:] == ladder.after(CLEAN).rung[:] == (96, None, True)


def test_bursts_stay_fast_and_grow_in_bars() -> None:
    ladder = Ladder.begin(rules(style=ClimbStyle.BURSTS, passes=1), DAY, loop_bars=3)
    bars = []
    for outcome in (CLEAN, CLEAN, MISSED, CLEAN):
        bars.append(ladder.rung.bars)
        assert ladder.rung.tempo_bpm == 103
        ladder = ladder.after(outcome)
    assert bars == [1, 2, 3, 2]
    ladder = ladder.after(CLEAN)
    assert ladder.word is Word.ENOUGH
    assert ladder.on(DAY + timedelta(days=1)).rung[:2] == (115, 1)


@settings(deadline=None)
@given(OUTCOMES)
def test_where_the_player_stood_survives_a_file(outcomes: list[Outcome]) -> None:
    ladder = after(Ladder.begin(rules(), DAY), *outcomes)
    assert Ladder.from_dict(rules(), json.loads(json.dumps(ladder.as_dict()))) == ladder


def test_a_ladder_that_leads_down_or_a_figure_out_of_bounds_is_refused() -> None:
    with pytest.raises(ValueError, match="no ladder leads from 168 to 92"):
        LadderRules(168, 92)
    with pytest.raises(ValueError, match="passes is 0, not 1 to 20"):
        rules(passes=0)
    with pytest.raises(ValueError, match="no step"):
        Rise(-1)


@pytest.mark.parametrize(("passes", "miss", "share"), [(1, 1, 0.5), (2, 1, 0.707), (3, 1, 0.794), (2, 2, 0.816)])
def test_the_stated_convergence(passes: int, miss: int, share: float) -> None:
    assert settles_at(rules(passes=passes, miss=miss)) == pytest.approx(share, abs=5e-4)
    assert settles_at(rules(miss=0)) is None


@pytest.mark.parametrize("width", [0.03, 0.05, 0.10])
@pytest.mark.parametrize(("passes", "miss"), [(1, 1), (2, 1), (3, 1), (4, 1), (2, 2)])
def test_simulated_players_settle_where_the_rule_says(passes: int, miss: int, width: float) -> None:
    """Mean of the rungs over long climbs: within one smallest rung (2.5 %) of the stated tempo."""
    chance = random.Random(passes * 100 + miss)
    player = SimulatedPlayer(130.0, width)
    given_rules = LadderRules(100.0, 400.0, passes=passes, miss=miss, rise=100, not_now=50)
    share = settles_at(given_rules)
    assert share is not None
    tempos = []
    for _ in range(8):
        ladder = Ladder.begin(given_rules, DAY)
        for number in range(700):
            if number >= 200:
                tempos.append(log(ladder.tempo_bpm))
            ladder = ladder.after(player.plays(ladder.rung.tempo_bpm, chance))
    stated = log(player.tempo_for(share))
    assert statistics.fmean(tempos) == pytest.approx(stated, abs=0.025)


def test_todays_tempo_is_the_mean_of_the_last_reversals_and_lands_near_the_stated_one() -> None:
    """After a session's 60 passes from 15 % below: median error within 1 %, four of five within 5 %."""
    errors = []
    for seed in range(300):
        chance = random.Random(seed)
        player = SimulatedPlayer(140.0)
        ladder = Ladder.begin(LadderRules(110.0, 200.0, rise=50), DAY)
        for _ in range(60):
            ladder = ladder.after(player.plays(ladder.rung.tempo_bpm, chance))
        assert ladder.today_bpm is not None
        errors.append(log(ladder.today_bpm) - log(player.tempo_for(0.794)))
    errors.sort()
    assert abs(statistics.median(errors)) < 0.01
    assert errors[30] > -0.05 and errors[270] < 0.05


def test_today_has_no_tempo_before_four_reversals() -> None:
    ladder = Ladder.begin(rules(passes=1), DAY)
    ladder = after(ladder, CLEAN, MISSED, CLEAN)
    assert ladder.today_bpm is None
    assert after(ladder, MISSED, CLEAN).today_bpm is not None
