"""How long a strum took: told of two strings where the sound tells it, of others not at all."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.listening.plucked import RATE, Played, line, player, record
from trainer.listening.hearing import Hearing, hear
from trainer.listening.judgement_json import judgement_as_json
from trainer.listening.judging import judge_sound
from trainer.listening.midi_matching import match_midi
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.sound import Sound
from trainer.listening.strum import RATE as DULL
from trainer.listening.strum import can_be_told, strum
from trainer.listening.written import WrittenPart

THIRDS = ((52, 55), (54, 57), (55, 59), (57, 60), (59, 62), (60, 64), (62, 66), (64, 67))


def strummed(written: WrittenPart, seed: int = 3) -> list[Played]:
    """Every chord with a strum of its own, up to 14 ms."""
    rng = np.random.default_rng(seed)
    return [replace(note, strum_s=float(rng.uniform(0.0, 0.014))) for note in player(written)]


def heard(written: WrittenPart, notes: list[Played], drive: float = 0.0, gain: float = 1.0) -> Hearing:
    sound = record(notes, float(written.length) + 1.5, drive=drive)
    return hear(Sound(sound.samples * np.float32(gain), RATE), written)


@pytest.mark.parametrize("drive", [0.0, 3.0])
def test_the_strum_of_two_strings_is_told_within_its_interval_or_not_at_all(drive: float) -> None:
    written = line(THIRDS * 4, 120)
    notes = strummed(written)
    strokes = heard(written, notes, drive).strokes
    told = [(item.strum, note.strum_s * 1000) for item, note in zip(strokes, notes, strict=True) if item and item.strum]
    assert len(told) >= len(notes) / 3
    assert np.median([abs(strum.ms - true) for strum, true in told]) < 1.5
    assert np.mean([strum.low_ms - 0.5 <= true <= strum.high_ms + 0.5 for strum, true in told]) > 0.7
    assert np.corrcoef([strum.ms for strum, _ in told], [true for _, true in told])[0, 1] > 0.7


def test_of_octaves_and_of_three_strings_nothing_is_told() -> None:
    assert can_be_told((52, 55)) and can_be_told((40, 47))
    assert not can_be_told((40, 52)) and not can_be_told((40, 47, 52)) and not can_be_told((40,))
    written = line(((40, 47, 52), (43, 50, 55), (45, 57), (47, 59)) * 4, 120)
    assert not any(item.strum for item in heard(written, strummed(written)).strokes if item)


def test_gain_changes_no_strum_and_the_end_of_the_sound_is_no_trouble() -> None:
    written = line(THIRDS, 120)
    notes = strummed(written)
    loud, soft = (heard(written, notes, gain=gain) for gain in (1.0, 0.1))
    assert [item and item.strum for item in loud.strokes] == [item and item.strum for item in soft.strokes]
    sound = record(notes, float(written.length) + 1.5)
    assert strum(sound, sound.lowered(DULL), sound.seconds - 0.03, (52, 55)) is None
    assert strum(sound, sound.lowered(DULL), 0.001, (52, 55)) is None


def test_the_verdict_tells_how_far_the_strings_lie_apart_and_each_chord_its_interval() -> None:
    written = line(THIRDS * 4, 120)
    notes = [replace(note, strum_s=0.010) for note in player(written)]
    judgement = judge_sound(record(notes, float(written.length) + 1.5), written)
    assert "The strings of your chords follow within " in judgement.habit
    strokes = judgement_as_json(judgement)["strokes"]
    told = [item for item in strokes if item["strum_ms"] is not None]
    assert told and all(low <= item["strum_ms"] <= high for item in told for low, high in [item["strum_within_ms"]])
    single = line((52, 54, 55, 57) * 4, 120)
    assert "strings" not in judge_sound(record(player(single), float(single.length) + 1.5), single).habit


def test_a_midi_strum_is_exact() -> None:
    written = line(THIRDS, 120)
    strums = [Fraction(k, 480) for k in range(len(THIRDS))]
    notes = [
        MidiNote(1 + stroke.at + place * strum_s, pitch)
        for stroke, strum_s in zip(written.strokes, strums, strict=True)
        for place, pitch in enumerate(stroke.pitches)
    ]
    played = match_midi(MidiTake(tuple(sorted(notes)), Fraction(1, 480)), written).strokes
    assert [item.strum_ms for item in played] == [float(strum_s * 1000) for strum_s in strums]
    assert not any(item.strum_within_ms for item in played)
