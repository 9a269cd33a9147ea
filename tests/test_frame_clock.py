"""Frames tied to a clock by looks that come late: exact to a fraction of the lateness, through gaps too."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.frame_clock import FrameClock

RATE, PERIOD = 48_000, 768


def looked(
    clock: FrameClock, rng: np.random.Generator, first: float, last: float, off: float, gone: float = 0.0
) -> None:
    """Look every ten milliseconds or so, each time late by some milliseconds, at a count that moves in periods."""
    now = first
    while now < last:
        counted = int((now - off - gone) * RATE) // PERIOD * PERIOD
        clock.look(now + rng.exponential(0.0005), max(0, counted))
        now += rng.uniform(0.005, 0.02)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(100, 1e5))
def test_looks_that_come_late_place_a_frame_to_a_millisecond(seed: int, off: float) -> None:
    clock, rng = FrameClock(RATE), np.random.default_rng(seed)
    looked(clock, rng, off, off + 6, off)
    for frame in (0, 48_000, 200_000):
        at = clock.moment(frame)
        assert at is not None
        assert -1e-9 <= at - (off + frame / RATE) < 0.0012
        assert clock.frame(at) == pytest.approx(frame, abs=0.1)
    assert (clock.gaps, clock.lost_s) == (0, 0.0)


def test_nothing_is_known_before_the_first_look() -> None:
    clock = FrameClock(RATE)
    assert clock.moment(5) is None
    assert clock.frame(5.0) is None
    assert clock.wandered(1, 2) == 0.0


def test_lost_frames_are_one_gap_and_move_only_what_comes_after() -> None:
    clock, rng = FrameClock(RATE), np.random.default_rng(3)
    looked(clock, rng, 10, 16, 10)
    looked(clock, rng, 16, 24, 10, gone=0.025)
    assert clock.gaps == 1
    assert clock.lost_s == pytest.approx(0.025, abs=0.002)
    before, after = clock.moment(2 * RATE), clock.moment(12 * RATE)
    assert before == pytest.approx(12, abs=0.0015)
    assert after == pytest.approx(22.025, abs=0.0015)
    assert clock.wandered(12, 22) == pytest.approx(0.025, abs=0.002)


def test_a_difference_in_speed_is_followed_and_no_gap() -> None:
    clock = FrameClock(RATE)
    for number in range(30_000):  # five minutes, a hundredth of a per cent fast
        now = number * 0.01
        clock.look(now, int(now * RATE * 1.0001))
    assert clock.gaps == 0
    assert clock.frame(290.0) == pytest.approx(290 * RATE * 1.0001, abs=50)
