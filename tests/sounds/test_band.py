"""What a guitarist hears first in the built-in bank, within the bounds of `tests.benchmarks.sound`."""

import numpy as np
import pytest

from tests.benchmarks.sound_measures import (
    body_and_beater,
    centroid_octaves,
    fall_ms,
    fundamental,
    largest_step,
    likeness,
    loudness,
    pick,
)
from tests.sounds.hearing import note_of, synth
from trainer.sounds.find_banks import built_in_bank

BANK = built_in_bank()


@pytest.mark.parametrize("preset", [(0, 28), (1, 28), (2, 28)], ids=str)
def test_a_palm_mute_has_the_pick_in_it_and_falls_within_a_tenth_of_a_second_or_so(preset: tuple[int, int]) -> None:
    with synth(BANK) as (player, number):
        for key in (40, 43, 45, 47):
            sound = note_of(player, number, preset, key, 0.4, 98)
            assert pick(sound) >= 15
            assert 70 <= fall_ms(sound) <= 150


@pytest.mark.parametrize("preset", [(0, 30), (1, 30), (0, 29)], ids=str)
def test_brightness_makes_no_step_between_neighbouring_keys(preset: tuple[int, int]) -> None:
    with synth(BANK) as (player, number):
        bright = [centroid_octaves(note_of(player, number, preset, key, 0.32, 98)) for key in range(40, 77)]
    assert largest_step(bright)[0] <= 0.3


@pytest.mark.parametrize("program", [28, 30])
def test_left_and_right_are_two_guitars_on_every_key(program: int) -> None:
    with synth(BANK) as (player, number):
        alike = [
            likeness(*(note_of(player, number, (bank, program), key, 0.2, 98) for bank in (0, 1)))
            for key in range(40, 65)
        ]
    assert np.mean(alike) <= 0.5
    assert max(alike) <= 0.7


def test_the_kit_is_balanced() -> None:
    with synth(BANK) as (player, number):
        kick, snare, hat, ride = (note_of(player, number, (128, 0), key, 0.45, 98) for key in (36, 38, 42, 51))
        crash = note_of(player, number, (128, 0), 49, 4.0, 98)
    assert body_and_beater(kick) >= -16
    assert loudness(snare) - loudness(kick) == pytest.approx(2, abs=1)
    assert loudness(ride) - loudness(hat) == pytest.approx(0, abs=1.5)
    assert fall_ms(crash, 40) >= 2500


def test_the_bass_has_its_fundamental() -> None:
    with synth(BANK) as (player, number):
        for key in (28, 31, 33, 36, 38):
            assert fundamental(note_of(player, number, (0, 34), key, 0.5, 98), key) >= -5
