"""Attacks that swell: the take is timed from where they begin, and what is not known is said."""

import numpy as np
import pytest

from tests.listening.plucked import RATE, Played, gallop, line, player, record, string
from trainer.listening.hearing import Hearing, hear
from trainer.listening.judging import JudgeSettings, judge_sound
from trainer.listening.sound import Sound
from trainer.listening.swell import blur_ms, lead
from trainer.listening.written import WrittenPart

SWELLS_S = 0.022


def swelling(written: WrittenPart, starts: list[float], touch: float) -> Sound:
    """Every stroke touches the ear at its time and swells up 22 ms later, as some sampled tones do."""
    rng = np.random.default_rng(4)
    out = rng.normal(0, 1e-4, int((float(written.length) + 2) * RATE))
    for at, stroke in zip(starts, written.strokes, strict=True):
        tone = string(stroke.pitches[0], float(stroke.length) * 0.8, rng, muted=True, slurred=False, rate=RATE)
        seconds = np.arange(len(tone)) / RATE
        swells = np.interp(seconds, [0.0, 0.003, 0.006, SWELLS_S - 0.002, SWELLS_S], [touch, touch, 0.5, 0.5, 1.0])
        later = np.roll(tone, round(SWELLS_S * RATE)) * (seconds >= SWELLS_S)
        first = round(at * RATE)
        out[first : first + len(tone)] += swells * np.where(seconds < SWELLS_S, tone, 0) + later
    return Sound((0.3 * out / np.abs(out).max()).astype(np.float32), RATE)


def off_ms(hearing: Hearing, starts: list[float]) -> np.ndarray:
    return np.array([1000 * (item.at_s - at) for item, at in zip(hearing.strokes, starts, strict=True) if item])


def test_attacks_that_all_swell_the_same_way_begin_where_they_touch_the_ear() -> None:
    written = gallop(80, bars=4)
    starts = [note.at_s for note in player(written)]
    low = swelling(written, starts, 0.9).lowered(11_000)
    assert lead(low, [at + SWELLS_S for at in starts]) == pytest.approx(SWELLS_S, abs=0.001)
    assert blur_ms(low, [at + SWELLS_S for at in starts]) > 5


def test_noises_before_a_few_strokes_move_no_take() -> None:
    written = gallop(80, bars=4)
    notes = player(written)
    sound = record(notes, float(written.length) + 1.5)
    rng = np.random.default_rng(2)
    for note in notes[::8]:
        first = round((note.at_s - rng.uniform(0.008, 0.03)) * RATE)
        sound.samples[first : first + 200] += rng.normal(0, 0.05, 200).astype(np.float32)
    assert lead(sound.lowered(11_000), [note.at_s for note in notes]) == 0
    assert lead(sound.lowered(11_000), []) == 0


def test_the_lead_moves_strokes_and_extras_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    written = line((57, 59, 60, 62, 64, 62, 60, 59) * 2, 90)
    notes = player(written)
    extra = Played(notes[5].at_s + 0.17, 0.12, (notes[5].pitches[0] + 2,))
    sound = record(sorted([*notes, extra], key=lambda note: note.at_s), float(written.length) + 1.5)
    plain = hear(sound, written)
    monkeypatch.setattr("trainer.listening.hearing.lead", lambda *_: 0.02)
    moved = hear(sound, written)
    for one, other in zip((*plain.strokes, *plain.extras), (*moved.strokes, *moved.extras), strict=True):
        assert one is not None and other is not None
        assert other.at_s == pytest.approx(one.at_s - 0.02)
    assert len(plain.extras) == 1


@pytest.mark.parametrize("drive", [0.0, 6.0])
def test_a_plucked_string_is_not_moved_and_hardly_blurred(drive: float) -> None:
    written = gallop(140, bars=4)
    notes = player(written)
    hearing = hear(record(notes, float(written.length) + 1.5, drive=drive), written)
    assert abs(np.median(off_ms(hearing, [note.at_s for note in notes]))) < 0.5
    assert hearing.blur_ms < 1.5


def test_where_attacks_swell_early_and_late_are_less_sure(monkeypatch: pytest.MonkeyPatch) -> None:
    written = line((57, 59, 60, 62, 64, 62, 60, 59) * 2, 100)
    sound = record(player(written, start_s=1.0), float(written.length) + 1.5)
    sharp = judge_sound(sound, written, JudgeSettings(start_s=1.0)).timing
    monkeypatch.setattr("trainer.listening.hearing.blur_ms", lambda *_: 12.0)
    blurred = judge_sound(sound, written, JudgeSettings(start_s=1.0)).timing
    assert sharp is not None and blurred is not None
    assert blurred.bias.high - blurred.bias.value > 12 > sharp.bias.high - sharp.bias.value
    assert blurred.spread == sharp.spread
