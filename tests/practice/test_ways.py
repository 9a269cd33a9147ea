"""Fading guide, building and burst: what changes from pass to pass."""

import itertools

import pytest

from trainer.practice.methods import Building, Burst, FadingGuide
from trainer.practice.verdict import Outcome

CLEAN, MISSED, UNJUDGED = Outcome.CLEAN, Outcome.MISSED, Outcome.UNJUDGED


def test_the_guide_gets_quieter_with_every_clean_pass_until_it_is_gone() -> None:
    guide = FadingGuide()
    gains = [guide.gain]
    for _ in range(8):
        guide = guide.after(CLEAN)
        gains.append(guide.gain)
    assert gains[0] == 1.0 and gains[7:] == [0.0, 0.0]
    assert all(louder > quieter for louder, quieter in itertools.pairwise(gains[:8]))


def test_the_guide_comes_back_on_a_miss_and_stays_on_an_unjudged_pass() -> None:
    faded = FadingGuide().after(CLEAN).after(CLEAN)
    assert faded.after(UNJUDGED) == faded
    assert faded.after(MISSED).gain == 1.0
    assert FadingGuide(rise_db=4).after(CLEAN).after(CLEAN).after(MISSED).level_db == -4


def test_building_from_the_front_adds_the_next_bar_with_one_note_over_the_join() -> None:
    building = Building(3, 5)
    assert building.loop == (3, 3, False, True)
    building = building.after(CLEAN)
    assert building.loop == (3, 4, False, True) and not building.whole
    building = building.after(CLEAN)
    assert building.loop == (3, 5, False, False) and building.whole
    assert building.after(CLEAN).loop == building.loop


def test_building_from_the_end_reaches_back_over_the_join() -> None:
    building = Building(1, 4, from_end=True)
    assert building.loop == (4, 4, True, False)
    assert building.after(CLEAN).after(CLEAN).after(CLEAN).loop == (1, 4, False, False)


def test_building_keeps_its_bars_on_one_miss_and_gives_one_back_on_two() -> None:
    building = Building(1, 4).after(CLEAN).after(UNJUDGED).after(MISSED)
    assert building.loop.last_bar == 2
    assert building.after(MISSED).loop.last_bar == 1
    assert building.after(CLEAN).loop.last_bar == 3


def test_no_bars_no_building() -> None:
    with pytest.raises(ValueError, match="0 bars cannot be built from 4 to 3"):
        Building(4, 3, bars=0)


def test_a_burst_is_one_bar_over_the_target_and_then_rest() -> None:
    burst = Burst(5, 168)
    assert burst.next == (5, 178, 2)
    for outcome in (CLEAN, CLEAN, MISSED, CLEAN, CLEAN, CLEAN):
        assert not burst.done
        burst = burst.after(outcome)
    assert burst.won and burst.next is None


def test_bursts_end_before_the_hand_tires() -> None:
    burst = Burst(5, 168)
    for _ in range(8):
        burst = burst.after(UNJUDGED)
    assert burst.done and not burst.won
