"""The verdict: what is said of a take with a known fault, and what is said when nothing can be told."""

from dataclasses import replace

import numpy as np
import pytest

from tests.listening.plucked import RATE, gallop, late, line, player, record
from trainer.listening.judging import Judgement, JudgeSettings, judge_sound
from trainer.listening.sound import Sound
from trainer.listening.written import GallopNote, WrittenPart
from trainer.practice.verdict import Outcome

RIFF = (40, 43, 45, 47, 50, 52, 50, 47, 45, 43, 47, 50, 52, 55, 52, 50) * 2


def sentence(judgement: Judgement) -> str:
    assert judgement.verdict.reasons, judgement
    return judgement.verdict.reasons[0].sentence


def heard(written: WrittenPart, seed: int = 1, **changes: float) -> Sound:
    return record(player(written, seed=seed, **changes), float(written.length) + 2.5)


def test_a_late_sixteenth_is_told_from_the_bar_where_it_begins() -> None:
    written = gallop(120, bars=8)
    which = [k for k, s in enumerate(written.strokes) if s.figure is GallopNote.SECOND_SHORT and s.bar >= 5]
    sound = record(late(player(written, jitter_ms=3), which, 22), float(written.length) + 2)
    told = sentence(judge_sound(sound, written))
    assert "second sixteenth" in told
    assert "from bar 5 on" in told


def test_a_steady_bias_is_a_habit_where_the_start_is_known() -> None:
    written = line(RIFF, 120)
    sound = record(player(written, start_s=0.985, jitter_ms=3), float(written.length) + 2)
    judgement = judge_sound(sound, written, JudgeSettings(start_s=1.0))
    assert judgement.verdict.outcome is Outcome.CLEAN
    assert "15 ms ahead of the click" in judgement.habit
    assert "habit" in judgement.habit
    assert "not known without calibration" in judge_sound(sound, written).habit


def test_a_verdict_names_what_to_do_next() -> None:
    written = line(RIFF, 120)
    notes = player(written)
    del notes[12]
    judgement = judge_sound(record(notes, float(written.length) + 2), written)
    assert judgement.action is not None
    assert judgement.action.first_bar == 2
    assert judgement.action.tempo_bpm < 120


def test_bars_that_were_left_out_are_named_and_the_rest_is_judged() -> None:
    written = line(RIFF, 120)
    notes = [note for note, stroke in zip(player(written), written.strokes, strict=True) if stroke.bar < 4]
    judgement = judge_sound(record(notes, float(written.length) + 2), written)
    assert judgement.verdict.outcome is Outcome.MISSED
    assert sentence(judgement) == "Bar 4 was not heard; the verdict is on what was played."
    assert len(judgement.faults) == 1


@pytest.mark.parametrize(("seconds", "last"), [(3.0, 10), (4.0, 14)])
def test_a_pass_that_stops_early_is_judged_for_what_was_played(seconds: float, last: int) -> None:
    written = line(RIFF, 120)
    whole = heard(written)
    judgement = judge_sound(Sound(whole.samples[: round(seconds * RATE)], RATE), written)
    assert judgement.performance is not None
    assert [item.missed for item in judgement.performance.strokes] == [k >= last for k in range(32)]
    assert "not heard; the verdict is on what was played" in sentence(judgement)
    assert judgement.verdict.measured is not None
    assert judgement.verdict.measured.missed <= 2


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda sound: Sound(sound.samples * 0, RATE), "No signal"),
        (lambda sound: Sound(sound.samples[: RATE // 4], RATE), "half a second"),
        (lambda sound: Sound(sound.samples[::6], 8_000), "8000 Hz"),
        (lambda _: Sound(np.random.default_rng(1).normal(0, 0.1, RATE * 10).astype(np.float32), RATE), "not match"),
    ],
    ids=["silence", "too short", "8 kHz", "noise"],
)  # fmt: skip
def test_what_cannot_be_judged_is_told(spoil: object, words: str) -> None:
    written = line(RIFF, 120)
    judgement = judge_sound(spoil(heard(written)), written)  # type: ignore[operator]
    assert judgement.verdict.outcome is Outcome.UNJUDGED
    assert words in sentence(judgement)


@pytest.mark.parametrize(("tempo", "words"), [(60, "half the tempo"), (240, "twice the tempo")])
def test_half_and_double_tempo_are_recognised(tempo: int, words: str) -> None:
    judgement = judge_sound(heard(line(RIFF, tempo)), line(RIFF, 120))
    assert judgement.verdict.outcome is Outcome.UNJUDGED
    assert words in sentence(judgement)


def test_another_tuning_is_recognised() -> None:
    written = line(RIFF, 120)
    down = [replace(note, pitches=tuple(pitch - 2 for pitch in note.pitches)) for note in player(written)]
    judgement = judge_sound(record(down, float(written.length) + 2), written)
    assert judgement.verdict.outcome is Outcome.UNJUDGED
    assert "two semitones lower" in sentence(judgement)


def test_another_riff_is_not_judged() -> None:
    other = (64, 67, 62, 71, 69, 60, 66, 59, 64, 72, 68, 61, 70, 58, 63, 65) * 2
    for played_line in (line(other, 120), gallop(97, bars=5, pitch=47)):
        judgement = judge_sound(heard(played_line), line(RIFF, 120))
        assert judgement.verdict.outcome is Outcome.UNJUDGED
        assert "Could not match" in sentence(judgement)


def test_clipping_is_told_and_the_take_judged() -> None:
    written = line(RIFF, 120)
    sound = heard(written)
    clipped = Sound(np.clip(sound.samples * 20, -1, 1).astype(np.float32), RATE)
    judgement = judge_sound(clipped, written)
    assert judgement.verdict.counts
    assert "clips" in judgement.warnings[0]


def test_a_loop_that_comes_through_the_microphone_is_noticed() -> None:
    written = line(RIFF, 120)
    sound = heard(written)
    loop = record(player(gallop(120, bars=4), 0.7, seed=9), sound.seconds, seed=9)
    leaking = Sound(sound.samples + np.roll(loop.samples, 900) * np.float32(0.1), RATE)
    told, clean = (judge_sound(item, written, JudgeSettings(loop=loop)).warnings for item in (leaking, sound))
    assert "through the microphone" in told[0]
    assert clean == ()


def test_a_bend_is_shown_in_cents_and_not_graded() -> None:
    written = line((57, 60, 62, 64) * 3, 60, grid=1)
    strokes = tuple(replace(stroke, bent=k == 5) for k, stroke in enumerate(written.strokes))
    written = replace(written, strokes=strokes)
    notes = player(written)
    sound = record(notes, float(written.length) + 2)
    note = notes[5]
    time = np.arange(int(0.95 * RATE)) / RATE
    bent = 2.0 * np.clip((time - 0.2) / 0.2, 0, 1)
    phase = 2 * np.pi * np.cumsum(440 * 2 ** ((60 + bent - 69) / 12)) / RATE
    tone = sum(np.sin(n * phase) / n for n in range(1, 9)) * np.exp(-time / 0.8) * 0.1
    first = round(note.at_s * RATE)
    sound.samples[first : first + len(tone)] = tone
    judgement = judge_sound(sound, written)
    assert judgement.performance is not None
    item = judgement.performance.strokes[5]
    assert item.cents is not None
    assert abs(item.cents - 200) <= 20
    assert not item.wrong


@pytest.mark.parametrize("which", [(9,), tuple(range(32))], ids=["one stroke", "every stroke"])
def test_an_octave_is_told_of_a_whole_take_but_not_of_one_stroke(which: tuple[int, ...]) -> None:
    written = line(tuple(pitch + 12 for pitch in RIFF), 120)
    notes = [
        replace(note, pitches=(note.pitches[0] - 12,)) if k in which else note for k, note in enumerate(player(written))
    ]
    judgement = judge_sound(record(notes, float(written.length) + 2), written)
    if len(which) == 1:
        assert judgement.verdict.outcome is Outcome.CLEAN
    else:
        assert "twelve semitones lower" in sentence(judgement)
