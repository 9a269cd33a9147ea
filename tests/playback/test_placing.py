"""Where the parts of a band stand, and how loud the whole is."""

from pathlib import Path

import pytest

from tests.playback.riffs import exercise, guitar, melody_bar, riff
from trainer.music.part import PartSettings
from trainer.playback.channels import ALONE_PAN, Voice
from trainer.playback.piece import Piece
from trainer.playback.synth_options import BUILT_IN_GAIN, USUAL_GAIN, usual_gain
from trainer.playback.timeline import Timeline
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches

RIG = load_patches()


def voices(*settings: PartSettings) -> dict[str, Voice]:
    parts = [guitar(melody_bar(5, 7, 8, 10), name=each.name) for each in settings]
    music = riff(*parts, target=120)
    line = Timeline.of(Piece.of(exercise(music, settings=settings), [music]), RIG)
    return {voice.part: voice for voice in line.voices}


def test_a_guitar_alone_is_near_the_middle_and_two_are_apart() -> None:
    left, right = (PartSettings(f"guitar {i}", patch=f"rhythm {side}") for i, side in ((1, "left"), (2, "right")))
    assert voices(left)["guitar 1"].pan == -ALONE_PAN
    both = voices(left, right)
    assert (both["guitar 1"].pan, both["guitar 2"].pan) == (-0.85, 0.85)


@pytest.mark.parametrize("pan", [-1.0, 0.0, 0.9])
def test_where_an_exercise_puts_a_guitar_it_stays(pan: float) -> None:
    assert voices(PartSettings("guitar 1", patch="rhythm left", pan=pan))["guitar 1"].pan == pan


def test_the_built_in_bank_alone_has_a_gain_of_its_own() -> None:
    assert usual_gain(built_in_bank()) == BUILT_IN_GAIN
    assert usual_gain(Path("other.sf2")) == USUAL_GAIN
