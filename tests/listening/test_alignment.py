"""The alignment is the best explanation there is, the foot is where the attack begins, intervals hold what they say."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.listening.plucked import RATE, string
from trainer.listening.alignment import PLAYED_ODDS, REACH_S, _time_score, best_path
from trainer.listening.attack import foot
from trainer.listening.estimate import Estimate, centre, middle, robust_spread, slope
from trainer.listening.evidence import Evidence, spectra, tuning_cents
from trainer.listening.sound import Sound

TIMES = st.lists(st.integers(0, 120), min_size=1, max_size=6, unique=True).map(sorted)


@settings(max_examples=80, deadline=None)
@given(TIMES, TIMES, st.randoms(use_true_random=False))
def test_no_monotone_matching_scores_higher(strokes: list[int], attacks: list[int], random) -> None:  # type: ignore[no-untyped-def]
    expected, times = np.array(strokes) / 100, np.array(attacks) / 100
    extra = np.array([[random.uniform(-6, 1) for _ in attacks] for _ in strokes])
    rows = lambda stroke, near: extra[stroke, near]  # noqa: E731
    path, score = best_path(expected, times, rows, 0.03)
    gain = _time_score(times[None, :] - expected[:, None], 0.03, 8.0) + extra + PLAYED_ODDS
    gain[np.abs(times[None, :] - expected[:, None]) > REACH_S] = -np.inf
    best = max(
        sum(gain[s, a] for s, a in zip(some, others, strict=True))
        for size in range(min(len(strokes), len(attacks)) + 1)
        for some in combinations(range(len(strokes)), size)
        for others in combinations(range(len(attacks)), size)
    )
    mine = sum(gain[stroke, attack] for stroke, attack in enumerate(path) if attack >= 0)
    assert score == pytest.approx(best, abs=1e-6)
    assert mine == pytest.approx(best, abs=1e-6)
    matched = [attack for attack in path if attack >= 0]
    assert matched == sorted(set(matched))


@pytest.mark.parametrize("before", [None, 45, 52])
@pytest.mark.parametrize("pitch", [40, 57, 69])
def test_the_foot_is_found_to_a_fifth_of_a_millisecond(before: int | None, pitch: int) -> None:
    rng = np.random.default_rng(pitch)
    out = rng.normal(0, 3e-4, RATE)
    begins = 0.5003
    first = round(begins * RATE)
    if before:
        ringing = string(before, 0.45, rng, muted=False, slurred=False, rate=RATE)
        out[first - len(ringing) : first] += 0.2 * ringing
    tone = string(pitch, 0.3, rng, muted=False, slurred=False, rate=RATE)
    out[first : first + len(tone)] += 0.2 * tone
    found = foot(Sound(out.astype(np.float32), RATE), begins + rng.uniform(-0.004, 0.004))
    assert abs(found - begins) < 0.0002


def test_a_chord_is_told_from_its_neighbours_and_the_tuning_is_found() -> None:
    rng = np.random.default_rng(2)
    tone = sum(string(pitch + 0.3, 0.4, rng, muted=False, slurred=False, rate=RATE) for pitch in (47, 54, 59))
    sound = Sound((0.1 * tone).astype(np.float32), RATE).lowered(11_000)
    grid = spectra(sound, np.array([0.0]), np.array([0.3]))
    cents = tuning_cents(grid, [(47, 54, 59)])
    assert abs(cents - 30) <= 10
    evidence = Evidence.gathered(grid, 30, 80, cents)
    own = evidence.of(0, (47, 54, 59))
    assert all(own > evidence.of(0, (47, 54, 59), shift) + 0.1 for shift in (-5, -2, -1, 1, 2, 5))


def test_a_lowered_sound_keeps_its_band_and_nothing_folds_back() -> None:
    time = np.arange(RATE) / RATE
    for hertz, least, most in ((1_000, 0.68, 0.73), (4_500, 0.6, 0.73), (9_000, 0.0, 0.002)):
        low = Sound(np.sin(2 * np.pi * hertz * time).astype(np.float32), RATE).lowered(11_000)
        assert low.rate == 12_000
        level = float(np.sqrt(np.mean(low.samples[500:-500] ** 2)))
        assert least <= level <= most, hertz


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(1)
    held = 0
    for _ in range(400):
        values = list(rng.normal(5, 10, 24))
        estimate = middle(values, robust_spread(list(rng.normal(0, 10, 96))), 0.95)
        held += estimate.low <= 5 <= estimate.high
    assert 0.92 <= held / 400 <= 0.99


def test_wild_values_move_neither_centre_nor_slope() -> None:
    x = list(range(40))
    y = [0.5 * value for value in x]
    y[3], y[20], y[33] = 300.0, -250.0, 500.0
    assert slope(x, y) == pytest.approx(0.5, abs=0.02)
    assert centre([1.0] * 9 + [100.0, -90.0]) == pytest.approx(1.0, abs=0.01)


def test_a_claim_needs_the_whole_interval_beyond_the_edge() -> None:
    assert Estimate(14, 7, 21, 20).beyond(6)
    assert not Estimate(14, 5, 23, 20).beyond(6)
    assert Estimate(-14, -20, -8, 20).beyond(6)
