"""Harmony in reverse: what a written second guitar is to the first."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.arranging.lines import harmony, line_part, midis, riff_of
from trainer.arranging.harmony_fit import HarmonyFit, HarmonyMisfit, fit_harmony, fit_sentences, misfit_sentence
from trainer.arranging.realise import realise
from trainer.music.interval import Distance
from trainer.music.note import Moment
from trainer.music.part import HarmonyException, HarmonyPart, TabPart
from trainer.music.riff import Riff

MELODY = "E4 F#4 G4 A4 B4 A4 G4 F#4 | G4 A4 B4 C5 D5 C5 B4 A4"


def written_out(part: HarmonyPart, melody: str = MELODY) -> tuple[TabPart, TabPart, Riff]:
    """The line, and a harmony to it as if it had been written by hand."""
    line = line_part(melody)
    played = realise(riff_of(line, part))
    answer = played.part("guitar 2")
    assert isinstance(answer, TabPart)
    return line, answer, played


def fitted(part: HarmonyPart, melody: str = MELODY) -> HarmonyFit:
    found = fit_harmony(*written_out(part, melody))
    assert isinstance(found, HarmonyFit)
    return found


@pytest.mark.parametrize(
    "interval",
    ["third above", "third below", "sixth below", "perfect fourth above", "perfect fifth below", "octave below"],
)
def test_one_interval_is_found_again(interval: str) -> None:
    found = fitted(harmony(interval))
    assert (str(found.part.distance), found.part.exceptions) == (interval, ())
    assert not found.contrary


def test_exceptions_are_found_again() -> None:
    item = HarmonyException(2, Fraction(3, 8), Distance.parse("fourth above"))
    found = fitted(harmony("third above", exceptions=(item,)))
    assert found.part.exceptions == (item,)
    _, answer, riff = written_out(harmony("third above", exceptions=(item,)))
    assert fit_sentences(found, riff)[:2] == (
        "guitar 2 follows guitar 1 at the third above, but for one note in bar 2.",
        "In bar 2, 2 & it is the fourth above.",
    )
    assert answer.name == "guitar 2"


def test_contrary_motion_is_found_again() -> None:
    found = fitted(harmony("sixth above", contrary=True))
    assert found.contrary
    _, _, riff = written_out(harmony("sixth above", contrary=True))
    assert fit_sentences(found, riff)[0] == "guitar 2 moves against guitar 1, from the sixth above throughout."


@given(
    st.sampled_from(["third above", "sixth below", "fourth above", "perfect fifth above", "octave above"]),
    st.sampled_from([MELODY, "A3 C4 B3 A3 G#3 A3 B3 C4 | D4 C4 B3 A3", "B3 B3 D4 B3 r E4 D4 B3 | G4 F#4 E4 D4"]),
    st.sampled_from(["third above", "fourth below", "minor third above"]),
    st.integers(0, 3),
)
@settings(max_examples=25, deadline=None)
def test_the_block_that_is_found_plays_what_was_written(interval: str, melody: str, other: str, at: int) -> None:
    item = HarmonyException(2, Fraction(at, 8), Distance.parse(other))
    line, answer, riff = written_out(harmony(interval, exceptions=(item,)), melody)
    found = fit_harmony(line, answer, riff)
    assert isinstance(found, HarmonyFit)
    again = realise(riff_of(line, found.part))
    assert midis(again.part("guitar 2")) == midis(answer)
    assert len(found.part.exceptions) <= 1


def test_another_rhythm_is_no_harmony() -> None:
    line, answer, riff = written_out(harmony("third above"))
    bar = answer.bars[1]
    late = replace(answer, bars=(answer.bars[0], (replace(bar[0], offset=Fraction(1, 16)), *bar[1:])))
    found = fit_harmony(line, late, riff)
    assert found == HarmonyMisfit("rhythm", (2,))
    assert misfit_sentence(found, "guitar 1", "guitar 2") == (
        "Guitar 2 does not follow guitar 1 note for note: the rhythm differs in bar 2."
    )


def test_other_articulation_is_told_with_its_bar() -> None:
    line, answer, riff = written_out(harmony("third above"))

    def muted(moment: Moment) -> Moment:
        return replace(moment, mute=True)

    other = replace(answer, bars=(tuple(map(muted, answer.bars[0])), answer.bars[1]))
    assert fit_harmony(line, other, replace(riff, parts=(line, other))) == HarmonyMisfit("articulation", (1,))


def test_a_pitch_that_no_distance_reaches_is_told() -> None:
    line = line_part("E3 F3 G3 E3")
    far = line_part("E3 F3 G3 E6", name="guitar 2")
    assert fit_harmony(line, far, riff_of(line, far)) == HarmonyMisfit("pitch", (1,))
