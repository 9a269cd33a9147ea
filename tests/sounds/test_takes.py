"""Which take of a sound a velocity chooses, and that the built-in bank sounds another one for each."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.benchmarks.sound_measures import likeness
from tests.sounds.hearing import note_of, synth
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.takes import TAKES, for_take, same_take


@given(velocity=st.integers(1, 127), take=st.integers(0, 1000))
def test_a_take_is_at_most_three_velocities_away(velocity: int, take: int) -> None:
    found = for_take(velocity, take)
    assert 1 <= found <= 127
    assert abs(found - velocity) < TAKES
    assert found % TAKES == take % TAKES or velocity < TAKES


@given(velocity=st.integers(1, 127), like=st.integers(4, 127))
def test_a_harder_or_softer_stroke_keeps_its_take(velocity: int, like: int) -> None:
    assert same_take(velocity, like) % TAKES == like % TAKES or velocity < TAKES


@pytest.mark.parametrize(("preset", "key", "most"), [((0, 28), 40, 0.6), ((1, 28), 40, 0.6), ((128, 0), 38, 0.9)])
def test_strokes_that_follow_each_other_are_not_one_recording(preset: tuple[int, int], key: int, most: float) -> None:
    with synth(built_in_bank()) as (player, number):
        strokes = [note_of(player, number, preset, key, 0.2, velocity) for velocity in (96, 97, 98, 99, 96)]
    assert max(likeness(one, other) for one, other in pairwise(strokes)) < most
    assert np.allclose(strokes[0], strokes[4], atol=1e-4)  # in turn
