from datetime import date, timedelta

import pytest

from trainer.practice.cautions import BY_ID, CAUTIONS, BreakWatch, Where, cautions
from trainer.practice.progress import best_over_time, clean_share, stall, sticking_tempo, streak
from trainer.practice.reading import LineDay, LineTempo

FIRST = date(2031, 3, 1)


def day(number: int, best: float, clean: int = 6, missed: int = 2) -> LineDay:
    return LineDay(FIRST + timedelta(days=number), clean + missed, clean, missed, 90.0, best, "clean", *[None] * 4)


def test_the_clean_share_is_clean_passes_per_judged_pass() -> None:
    assert clean_share(3, 1) == 0.75 and clean_share(0, 0) is None


def test_the_best_tempo_so_far_never_falls() -> None:
    told = best_over_time([day(0, 100), day(1, 0), day(2, 96), day(3, 104)])
    assert [(bpm, so_far) for _, bpm, so_far in told] == [(100, 100), (96, 100), (104, 104)]


def test_a_streak_lasts_while_today_is_young_and_ends_when_a_day_is_missed() -> None:
    days = [FIRST.toordinal() + n for n in (0, 1, 2, 3, 6, 7)]
    assert streak(days, FIRST + timedelta(days=7)) == (2, 4)
    assert streak(days, FIRST + timedelta(days=8)) == (2, 4)
    assert streak(days, FIRST + timedelta(days=9)) == (0, 4)
    assert streak([], FIRST) == (0, 0)
    assert streak(days[:1], FIRST) == (1, 1)


def test_a_line_stalls_when_six_days_and_thirty_passes_bring_no_worthwhile_rise() -> None:
    days = [day(0, 100), day(1, 110), *(day(2 + n, 110 + n % 3) for n in range(6))]
    found = stall(days, 168)
    assert found and (found.since, found.best_bpm, found.days, found.passes) == (FIRST + timedelta(days=1), 110, 6, 48)
    assert stall(days[:-1], 168) is None  # five days only
    assert stall([day(n, 110, 1, 1) for n in range(9)], 168) is None  # sixteen passes only
    assert stall([*days, day(9, 113)], 168) is None  # 2.7 % higher
    assert stall(days, 110) is None  # has arrived
    assert stall([], 110) is None


def test_a_line_sticks_where_less_than_half_is_clean() -> None:
    def tempo(bpm: int, clean: int, missed: int) -> LineTempo:
        return LineTempo(bpm, clean + missed, clean, missed, 0.0, *[None] * 4)

    assert sticking_tempo([tempo(100, 9, 1), tempo(104, 1, 2), tempo(108, 2, 4), tempo(112, 0, 9)]) == 108
    assert sticking_tempo([tempo(100, 9, 1)]) is None


def test_a_break_is_offered_after_25_minutes_of_play_and_again_when_put_off() -> None:
    watch = BreakWatch().after_play(24 * 60)
    assert not watch.due
    watch = watch.after_play(90)
    assert watch.due and not watch.later().due
    assert not watch.later().after_play(4 * 60).due
    assert watch.later().after_play(5 * 60).due
    assert watch.after_rest(4 * 60).due and not watch.after_rest(2 * 60).after_rest(3 * 60).due
    assert watch.after_rest(4 * 60).after_play(1).after_rest(4 * 60).due  # two short rests are no break
    assert BreakWatch().later() == BreakWatch()


def test_cautions_are_short_advice_with_a_place_and_a_professional() -> None:
    assert len(BY_ID) == len(CAUTIONS)
    for caution in CAUTIONS:
        assert caution.where and len(caution.text) < 320
    for text in ("pain", "hearing"):
        assert "doctor" in BY_ID[text].text
    assert "cannot measure" in BY_ID["hearing"].text and "not medical advice" in BY_ID["advice"].text


@pytest.mark.parametrize("where", list(Where))
def test_a_caution_put_away_shows_in_the_help_only(where: Where) -> None:
    assert cautions(where)
    assert bool(cautions(where, frozenset(BY_ID))) == (where is Where.HELP)
