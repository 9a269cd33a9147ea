"""A take at another tempo than it is judged at: nothing is invented about it."""

from fractions import Fraction
from pathlib import Path

import pytest

from trainer.arranging.realise import realise
from trainer.listening.judging import judge
from trainer.listening.take_file import read_take
from trainer.listening.written_part import written_part
from trainer.notation.files import read_file
from trainer.places import bundled
from trainer.playback.mix import Mix
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import render_audio
from trainer.playback.timeline import Timeline
from trainer.practice.verdict import Outcome
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches

PLAYED_BPM = 120


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A gallop on one string, as the program itself plays it: most notes are one pitch, which agrees by chance."""
    exercise = read_file(bundled("exercises") / "iron-causeway.md")
    piece = Piece.of(exercise, [exercise.riffs[0]])
    mix = Mix().only(["guitar 1"], piece.part_names)
    plan = Plan(piece.whole, share=Fraction(PLAYED_BPM) / piece.target_bpm(0), mix=mix)
    path = tmp_path_factory.mktemp("takes") / "take.wav"
    render_audio(Timeline.of(piece, load_patches()), plan, path, built_in_bank())
    return path


@pytest.mark.parametrize("bpm", [60, 90, 105, 140, 168, 200, 240])
def test_a_take_at_another_tempo_is_not_judged(take: Path, bpm: int) -> None:
    riff = realise(read_file(bundled("exercises") / "iron-causeway.md").riffs[0])
    [sound] = read_take(take)
    told = judge(sound, written_part(riff, "guitar 1", Fraction(bpm)))
    assert told.verdict.outcome is Outcome.UNJUDGED
    assert "Could not match" in told.verdict.reasons[0].sentence


@pytest.mark.parametrize("bpm", [109, 110, 111, 113, 115])
def test_a_take_up_to_a_tenth_too_fast_is_told_first_that_it_runs_ahead(take: Path, bpm: int) -> None:
    riff = realise(read_file(bundled("exercises") / "iron-causeway.md").riffs[0])
    [sound] = read_take(take)
    told = judge(sound, written_part(riff, "guitar 1", Fraction(bpm)))
    assert told.verdict.outcome is Outcome.MISSED
    assert told.verdict.reasons[0].sentence.startswith("You run ahead")


def test_the_same_take_at_its_own_tempo_is_clean(take: Path) -> None:
    riff = realise(read_file(bundled("exercises") / "iron-causeway.md").riffs[0])
    [sound] = read_take(take)
    told = judge(sound, written_part(riff, "guitar 1", Fraction(PLAYED_BPM)))
    assert told.verdict.outcome is Outcome.CLEAN
