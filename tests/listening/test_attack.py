"""Feet of attacks: where the string is let go, and where the first string of a strum is."""

import numpy as np
import pytest

from tests.listening.plucked import RATE, string
from trainer.listening.attack import LEAST_NEW, first_string, foot, rise
from trainer.listening.sound import Sound

AT = 0.4


def laid(parts: list[tuple[float, np.ndarray]], drive: float = 0.0, seed: int = 5) -> Sound:
    """Sounds at their times over a faint noise, through drive, at the rate at which feet are looked for."""
    out = np.random.default_rng(seed).normal(0, 1e-4, int(0.8 * RATE))
    for at, sound in parts:
        first = round(at * RATE)
        out[first : first + len(sound)] += sound[: len(out) - first]
    out /= np.abs(out).max()
    return Sound((np.tanh(drive * out) if drive else out).astype(np.float32), RATE).lowered(11_000)


def plucked(pitch: int, seconds: float, rng: np.random.Generator) -> np.ndarray:
    return string(pitch, seconds, rng, muted=False, slurred=False, rate=RATE)


@pytest.mark.parametrize("drive", [3.0, 10.0])
def test_the_touch_of_the_pick_before_a_stroke_is_not_the_stroke(drive: float) -> None:
    early = []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        touch = rng.normal(0, 1, 120) * np.exp(-np.arange(120) / 40)
        for pitch in (52, 57, 64):
            note, before = plucked(pitch, 0.3, rng), 0.7 * plucked(pitch - 2, AT, rng)
            sound = laid([(0.0, before), (AT - 0.003, 0.2 * np.abs(note).max() * touch), (AT, note)], drive)
            early.append(foot(sound, AT + 0.001) < AT - 0.0012)
    assert np.mean(early) < 0.45


@pytest.mark.parametrize("drive", [0.0, 3.0])
def test_the_first_string_of_a_strum_is_found_under_a_chord_that_still_rings(drive: float) -> None:
    rng = np.random.default_rng(8)
    off = []
    for _ in range(40):
        before, chord = ([root, root + 7, root + 12] for root in rng.integers(40, 47, 2))
        strings = [(AT + at, rng.uniform(0.7, 1.0)) for at in (0.0, *np.sort(rng.uniform(0.001, 0.014, 2)))]
        ringing = [(0.0, 0.6 * plucked(pitch, AT, rng)) for pitch in before]
        struck = [(at, level * plucked(pitch, 0.3, rng)) for (at, level), pitch in zip(strings, chord, strict=True)]
        off.append(first_string(laid([*ringing, *struck], drive), strings[-1][0]) - AT)
    assert np.mean(np.abs(off) < 0.0012) >= 0.65
    assert not np.any(np.array(off) < -0.002)


def test_a_chord_whose_strings_sound_at_once_has_no_earlier_string() -> None:
    rng = np.random.default_rng(4)
    ringing = [(0.0, 0.6 * plucked(pitch, AT, rng)) for pitch in (43, 50, 55)]
    struck = [(AT, plucked(pitch, 0.3, rng)) for pitch in (43, 50, 55)]
    assert first_string(laid([*ringing, *struck]), AT) == pytest.approx(AT, abs=0.0005)


@pytest.mark.parametrize("drive", [0.0, 3.0])
def test_strings_that_beat_bring_nothing_new_and_a_struck_one_does(drive: float) -> None:
    rng = np.random.default_rng(6)
    beats, strokes = [], []
    for low in range(50, 62):
        pair = [(0.0, plucked(pitch, 0.8, rng)) for pitch in (low, low + 4)]
        beating = laid(pair, drive)
        beats += [rise(beating, at) for at in np.arange(0.15, 0.6, 0.05)]
        strokes.append(rise(laid([*pair, (AT, 0.7 * plucked(low + 2, 0.3, rng))], drive), AT))
    assert np.mean(np.array(beats) < LEAST_NEW) > 0.95
    assert np.mean(np.array(strokes) > LEAST_NEW) > 0.9


def test_a_hammered_note_that_begins_softly_is_timed_from_its_beginning() -> None:
    rng = np.random.default_rng(9)
    hammered, picked = [], []
    for pitch in range(57, 73):
        note, soft = 0.6 * plucked(pitch, 0.3, rng), round(0.012 * RATE)
        note[:soft] *= np.linspace(0.05, 1, soft) ** 1.5
        sound = laid([(0.0, 0.7 * plucked(pitch - 2, AT, rng)), (AT, note)])
        hammered.append(1000 * abs(foot(sound, AT + 0.004, slurred=True) - AT))
        picked.append(1000 * abs(foot(sound, AT + 0.004) - AT))
    assert np.mean(hammered) < 2.2 < np.mean(picked)
