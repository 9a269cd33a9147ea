"""What an action makes of a session's state, without a log, a sink or a clock."""

from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.screens.music import RIG, piece
from trainer.playback.piece import Loop
from trainer.practice.ladder import Ladder, Word
from trainer.practice.methods import Burst, FadingGuide
from trainer.practice.verdict import Decides, Outcome
from trainer.screens.actions import actions_for
from trainer.session.actions import (
    NAMED,
    Begin,
    ChangeLevel,
    ChangeTempo,
    ChooseBar,
    ChoosePart,
    ChoosePartBy,
    Hear,
    LoopFrom,
    LoopTo,
    MoveLoop,
    NextClick,
    SessionAction,
    SetCountIn,
    SetDecides,
    SetLoop,
    SetTempo,
    SwapGuitars,
    TakePart,
    ToggleGuide,
    UseMethod,
)
from trainer.session.choices import Choices, Method
from trainer.session.loop_moves import LoopMove
from trainer.session.music import LoadedExercise
from trainer.session.state import Progress, SessionState, music_of, plan_of, plays_other_music
from trainer.session.transitions import act

LOADED = LoadedExercise.of(piece(6).exercise, piece(6).exercise.riffs[0].name, RIG)
FORM = replace(LOADED, riff="")


def state(**choices: object) -> SessionState:
    """A session of six bars at 100 bpm."""
    chosen = replace(Choices(mine="guitar 1", last=5, bpm=Fraction(100)), **choices)  # type: ignore[arg-type]
    ladder = Ladder.begin(LOADED.rules, date(2031, 5, 4))
    return SessionState(LOADED, chosen, Progress(ladder, FadingGuide()))


def after(before: SessionState, *actions: SessionAction) -> SessionState:
    for action in actions:
        before, _ = act(before, action, ("beats", "gallop"))
    return before


def test_every_action_of_the_table_is_one_of_the_sessions() -> None:
    kinds = set(get_args(SessionAction))
    assert {type(action) for action in NAMED.values()} <= kinds
    assert set(NAMED) <= {action.name for action in actions_for("stand")}


@pytest.mark.parametrize("action", NAMED.values(), ids=NAMED)
@pytest.mark.parametrize("method", Method)
def test_every_named_action_leaves_a_state_that_can_be_played(action: SessionAction, method: Method) -> None:
    found = after(state(), UseMethod(method), action)
    music = music_of(found)
    plan = plan_of(found, None, music.loop)
    assert plan.loop.last < len(music.piece.bars)
    assert 0 <= found.bar < 6 and found.chosen_part in found.choosable


@given(st.fractions(-1000, 1000))
def test_a_tempo_is_kept_to_a_hundredth_between_20_and_400_bpm(bpm: Fraction) -> None:
    found = after(state(), SetTempo(bpm))
    assert 20 <= found.tempo_bpm <= 400
    assert (found.tempo_bpm * 100).denominator == 1
    assert found.share == found.tempo_bpm / LOADED.target_bpm


def test_faster_is_exact_however_often_it_is_pressed() -> None:
    found = after(state(bpm=Fraction(1001, 10)), *[ChangeTempo(1)] * 7, *[ChangeTempo(-1)] * 7)
    assert found.tempo_bpm == Fraction(1001, 10)


def test_on_the_ladder_a_tempo_moves_the_rung_and_in_a_burst_the_target() -> None:
    climbing = after(state(), UseMethod(Method.LADDER), SetTempo(Fraction(90)))
    assert climbing.tempo_bpm == climbing.progress.ladder.rung.tempo_bpm == 90
    burst = after(state(), UseMethod(Method.BURST), SetTempo(Fraction(106)))
    assert burst.progress.burst is not None
    assert burst.progress.burst.target_bpm == pytest.approx(100)


def test_a_burst_begins_a_little_over_what_is_clean_and_never_over_the_targets_burst() -> None:
    rung = state().progress.ladder.tempo_bpm
    for asked in (100, 150):  # a tempo that nobody has played clean yet is not built upon
        assert after(state(bpm=Fraction(asked)), UseMethod(Method.BURST)).tempo_bpm == round(rung * 1.06)
    for played, best in ((120, 120), (300, float(LOADED.target_bpm))):
        clean = state(bpm=Fraction(played))
        clean = replace(clean, progress=replace(clean.progress, row=2))
        assert after(clean, UseMethod(Method.BURST)).tempo_bpm == round(best * 1.06)


def test_a_burst_takes_the_chosen_bar_and_leaves_the_tempo_of_plain_looping() -> None:
    found = after(state(), ChooseBar(3), UseMethod(Method.BURST))
    assert found.loop == Loop(3, 3)
    assert after(found, UseMethod(Method.PLAIN)).tempo_bpm == 100


def test_building_is_refused_in_the_whole_form() -> None:
    found, reply = act(replace(state(), loaded=FORM), UseMethod(Method.FRONT))
    assert reply.refused and "one riff" in (reply.said or "")
    assert found.choices.method is Method.PLAIN


def test_a_loop_that_is_set_chooses_its_first_bar_and_one_end_alone_does_not() -> None:
    assert after(state(), SetLoop(Loop(2, 3))).bar == 2
    assert after(state(), SetLoop(Loop(2, 3)), MoveLoop(LoopMove.ON)).bar == 4
    found = after(state(), ChooseBar(4), LoopTo(), ChooseBar(1), LoopFrom())
    assert found.bar == 1 and found.loop == Loop(1, 4)


def test_what_was_built_of_other_bars_is_over() -> None:
    built = after(state(), UseMethod(Method.FRONT)).after(Outcome.CLEAN, Fraction(100))
    assert built.loop == Loop(0, 1)
    assert after(built, SetLoop(Loop(2, 5))).loop == Loop(2, 2)


def test_only_building_needs_another_timeline() -> None:
    plain = state()
    for action in (
        ChangeTempo(5),
        SetLoop(Loop(1, 2)),
        UseMethod(Method.LADDER),
        UseMethod(Method.BURST),
        SwapGuitars(),
    ):
        assert not plays_other_music(plain, after(plain, action))
    built = after(plain, UseMethod(Method.END))
    assert plays_other_music(plain, built) and plays_other_music(built, plain)
    assert not plays_other_music(built, after(built, ChangeTempo(5), Hear("bass")))


def test_the_chosen_part_is_heard_or_not_when_it_is_chosen_again() -> None:
    found = after(state(), ChoosePart(1))
    assert found.chosen_part == "guitar 2" and found.mix.heard("guitar 2")
    assert not after(found, ChoosePart(1)).mix.heard("guitar 2")


def test_choosing_a_part_goes_round_and_stays_on_the_last_one_when_the_guide_goes() -> None:
    guided = after(state(), ToggleGuide(), ChoosePartBy(-1))
    assert guided.chosen_part == "guide"
    assert after(guided, Hear()).chosen_part == "click"  # the guide is off, and gone from the list
    assert after(state(), ChoosePartBy(-1), ChoosePartBy(1)).chosen_part == state().chosen_part


def test_nobody_plays_the_click() -> None:
    found, reply = act(state(), TakePart("click"))
    assert reply.refused and found.mine == "guitar 1"


def test_a_loud_part_comes_with_the_caution_about_hearing() -> None:
    quiet, loud = act(state(), ChangeLevel(1, "bass"))[1], act(state(), ChangeLevel(7, "bass"))[1]
    assert quiet.caution is None and loud.caution is not None
    assert act(after(state(), ChangeLevel(9, "bass")), ChangeLevel(-1, "bass"))[1].caution is None


def test_click_patterns_follow_each_other_and_none_is_one_of_them() -> None:
    names = [state().choices.click]
    found = state()
    for _ in range(3):
        found = after(found, NextClick())
        names.append(found.choices.click)
    assert names == ["beats", "gallop", "", "beats"]


def test_a_count_in_stays_within_what_can_be_played() -> None:
    assert [after(state(), SetCountIn(bars)).choices.count_in for bars in (-1, 3, 99)] == [0, 3, 4]


def test_the_key_decides_until_somebody_listens() -> None:
    found, reply = act(state(), SetDecides(Decides.TAKE))
    assert found.decides is Decides.TAKE and found.decider is Decides.KEY
    assert "(L)" in (reply.said or "")
    assert replace(found, listening=True).decider is Decides.TAKE


def test_a_plan_begins_with_its_bar_at_its_tempo_whatever_was_chosen() -> None:
    found = after(state(first=1, last=2), Begin(Method.PLAIN, 4, 72.5))
    assert found.loop == Loop(3, 3) and found.bar == 3 and found.tempo_bpm == Fraction(145, 2)
    assert after(state(), Begin(Method.LADDER, 2, last_bar=3)).loop == Loop(1, 2)
    assert after(state(), Begin(Method.LADDER, 2, last_bar=99)).loop == Loop(1, LOADED.whole.last)
    climbing = after(found, Begin(Method.LADDER))
    assert climbing.loop == LOADED.whole and climbing.choices.method is Method.LADDER


def test_a_burst_over_the_fastest_tempo_is_played_at_that() -> None:
    fast = replace(state(), progress=replace(state().progress, burst=Burst(1, 399.0)))
    fast = replace(fast, choices=replace(fast.choices, method=Method.BURST))
    assert fast.share == Fraction(400) / LOADED.target_bpm


def test_a_verdict_moves_the_ladder_at_its_rung_only() -> None:
    climbing = after(state(), UseMethod(Method.LADDER))
    clean = climbing.after(Outcome.CLEAN, climbing.tempo_bpm)
    assert clean.progress.ladder.clean == 1 and clean.passes == 1
    assert climbing.after(Outcome.CLEAN, climbing.tempo_bpm + 9).progress.ladder.clean == 0
    assert clean.progress.ladder.word is Word.STAY
