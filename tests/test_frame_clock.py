"""Frames tied to a clock by looks that come late: exact to a fraction of the lateness, through gaps too."""

import numpy as np
import pytest

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


def test_looks_that_come_late_place_a_frame_to_a_millisecond() -> None:
    errors = []
    for seed in range(100):
        clock, rng = FrameClock(RATE), np.random.default_rng(seed)
        off = float(rng.uniform(100, 1e5))
        looked(clock, rng, off, off + 6, off)
        for frame in (0, 48_000, 200_000):
            at = clock.moment(frame)
            assert at is not None
            errors.append(at - (off + frame / RATE))
            assert clock.frame(at) == pytest.approx(frame, abs=0.1)
        assert clock.gaps == 0
    errors.sort()
    assert errors[0] > -1e-9
    assert errors[-3] < 0.0012  # each look of a window may come late, but hardly ever all of them
    assert errors[-1] < 0.003


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


def _play(clock: FrameClock, seconds: float, period: int, lost_at: dict[float, float], drift: float = 0.0) -> None:
    """Read every 7 ms the clock of a device that steps by `period` frames and stands still where it loses sound."""
    for step in range(int(seconds / 0.007)):
        now = step * 0.007
        lost = sum(length for at, length in lost_at.items() if at <= now)
        frame = int((now - lost) * (1 + drift) * RATE) // period * period
        clock.look(now, frame)


def test_a_steady_device_has_no_dropout() -> None:
    clock = FrameClock(RATE)
    _play(clock, 30, 1024, {})
    assert clock.gaps == 0


def test_a_clock_a_little_slow_is_no_dropout() -> None:
    clock = FrameClock(RATE)
    _play(clock, 60, 1024, {}, drift=-300e-6)
    assert clock.gaps == 0


def test_each_gap_is_counted() -> None:
    clock = FrameClock(RATE)
    _play(clock, 20, 1024, {4.0: 0.016, 9.0: 0.030, 15.0: 0.1})
    assert clock.gaps == 3


def test_reading_late_is_no_dropout() -> None:
    clock = FrameClock(RATE)
    for step in range(400):
        now = step * 0.007
        late = 0.04 if step % 9 == 0 else 0.0
        clock.look(now + late, int(now * RATE))
    assert clock.gaps == 0


def test_a_buffer_filled_late_for_a_second_is_no_dropout() -> None:
    clock = FrameClock(RATE)
    for step in range(3000):
        now = step * 0.007
        behind = 0.012 if 5 < now < 6 else 0.0
        clock.look(now, int((now - behind) * RATE))
    assert clock.gaps == 0
