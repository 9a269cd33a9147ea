from fractions import Fraction

import pytest

from tests.arranging.lines import harmony, line_part, riff_of
from trainer.arranging.choosing import choose_riffs, choose_tabs, with_part
from trainer.music.exercise import Exercise
from trainer.music.note import DrumMoment, Hit
from trainer.music.part import DrumPart
from trainer.music.problem import ProblemsError

DRUMS = DrumPart("drums", ((DrumMoment(Fraction(0), (Hit("kick"),)),),))
RIFF = riff_of(line_part("E4"), DRUMS)
EXERCISE = Exercise("march", "March", RIFF.key, RIFF.tempo, (RIFF,))


def test_a_name_chooses_and_none_means_all() -> None:
    assert choose_riffs(EXERCISE, None) == choose_riffs(EXERCISE, "Test riff") == (RIFF,)
    assert choose_tabs(RIFF, None) == choose_tabs(RIFF, "guitar 1") == RIFF.tabs


def test_a_wrong_name_is_told_with_the_nearest() -> None:
    with pytest.raises(ProblemsError, match='Did you mean "Test riff"'):
        choose_riffs(EXERCISE, "test rif")
    with pytest.raises(ProblemsError, match='Did you mean "guitar 1"'):
        choose_tabs(RIFF, "guitar")


def test_drums_have_no_pitches() -> None:
    with pytest.raises(ProblemsError, match="'drums' has no pitches"):
        choose_tabs(RIFF, "drums")


def test_a_part_is_replaced_or_added() -> None:
    other = line_part("G4")
    assert with_part(EXERCISE, "Test riff", other).riffs[0].parts == (other, DRUMS)
    second = harmony("third above")
    assert with_part(EXERCISE, "Test riff", second).riffs[0].parts == (*RIFF.parts, second)
    assert with_part(EXERCISE, "Elsewhere", second) == EXERCISE
