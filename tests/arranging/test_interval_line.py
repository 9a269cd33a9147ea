from fractions import Fraction

import pytest

from tests.arranging.lines import harmony, line_part, riff_of, tab_part
from trainer.arranging.interval_line import interval_line
from trainer.arranging.motion import Motion, crossed, motions, part_clashes, summarise
from trainer.arranging.realise import realise
from trainer.music.note import Moment, Note, Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff


def pair(one: str, other: str, key: str = "E aeolian") -> tuple[TabPart, TabPart, Riff]:
    first, second = line_part(one), line_part(other, "guitar 2")
    return first, second, riff_of(first, second, key=key)


def names(one: str, other: str) -> str:
    return " ".join(shared.name for shared in interval_line(*pair(one, other)))


def test_thirds_have_the_qualities_of_the_mode() -> None:
    line = line_part("E4 F#4 G4 A4 B4 C5 D5")
    riff = realise(riff_of(line, harmony("third above")))
    second = riff.part("guitar 2")
    assert isinstance(second, TabPart)
    assert " ".join(shared.name for shared in interval_line(line, second, riff)) == "m3 m3 M3 m3 m3 M3 M3"


@pytest.mark.parametrize(
    ("one", "other", "name"),
    [
        ("E4", "E4", "P1"),
        ("E4", "F#4", "M2"),
        ("E4", "A4", "P4"),
        ("F#4", "C5", "d5"),
        ("C4", "F#4", "A4"),
        ("E4", "C5", "m6"),
        ("E4", "D5", "m7"),
        ("E4", "E5", "P8"),
        ("E4", "F#5", "M9"),
        ("E4", "G5", "m10"),
        ("E4", "A5", "P4"),
        ("E3", "E5", "P8"),
        ("E3", "G5", "m10"),
        ("E2", "E5", "P8"),
        ("G4", "E4", "m3"),
    ],
)
def test_intervals_have_their_names(one: str, other: str, name: str) -> None:
    assert names(one, other) == name


def test_only_shared_onsets_have_intervals() -> None:
    assert names("E4 r G4 A4", "G4 A4 B4 r") == "m3 M3"


def test_a_chord_counts_by_its_highest_note_and_a_dead_note_not_at_all() -> None:
    assert names("E3+B3", "G4") == "m6"
    dead = tab_part((Moment(Fraction(0), (Note(6, 0, touch=Touch.DEAD),)),))
    line = line_part("E4", "guitar 2")
    assert interval_line(dead, line, riff_of(dead, line)) == ()


def test_places_count_bars_from_one() -> None:
    (_, last) = interval_line(*pair("E4 | r G4", "G4 | r B4"))
    assert (last.bar, last.offset, last.at) == (2, Fraction(1, 8), Fraction(9, 8))


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("E4 F#4", "G4 A4", Motion.PARALLEL),
        ("E4 F#4", "G4 B4", Motion.SIMILAR),
        ("E4 F#4", "G4 F#4", Motion.CONTRARY),
        ("E4 E4", "G4 A4", Motion.OBLIQUE),
        ("E4 F#4", "G4 G4", Motion.OBLIQUE),
        ("E4 E4", "G4 G4", Motion.STILL),
    ],
)
def test_two_parts_move_in_one_of_five_ways(one: str, other: str, expected: Motion) -> None:
    assert motions(interval_line(*pair(one, other))) == (expected,)


def test_parts_cross_where_the_higher_one_lies_lower() -> None:
    line = interval_line(*pair("E4 F#4 A4 E4", "G4 A4 G4 G4"))
    assert [(shared.bar, shared.offset) for shared in crossed(line)] == [(1, Fraction(1, 4))]
    assert crossed(interval_line(*pair("E4 F#4", "G4 A4"))) == ()


def test_a_semitone_in_any_octave_grates() -> None:
    (clash,) = part_clashes(*pair("E4 G4 A4", "F5 B4 C5"))
    assert (clash.bar, clash.offset, str(clash.one), str(clash.other)) == (1, Fraction(0), "E4", "F5")
    assert part_clashes(*pair("E4 A4", "F#4 D#5")) == ()  # a second and a tritone are colour


def test_a_held_note_grates_with_one_that_starts_under_it() -> None:
    (clash,) = part_clashes(*pair("E4", "B4 F4"))
    assert clash.offset == Fraction(1, 8)


def test_the_summary_names_the_main_interval_and_its_exceptions() -> None:
    found = summarise(interval_line(*pair("E4 F#4 G4 A4 B4", "G4 A4 B4 D5 E5")))
    assert found is not None
    assert (found.main, found.share, found.onsets) == (3, 0.6, 5)
    ((run),) = found.exceptions
    assert (run.number, run.first, run.count) == (4, 3, 2)
    assert summarise(()) is None


def test_two_notes_that_go_on_grating_are_told_once() -> None:
    one, other, riff = pair("E4 r | E4", "F4 F4 | F4")
    assert [(clash.bar, clash.offset) for clash in part_clashes(one, other, riff)] == [(1, 0), (2, 0)]
    ringing = tab_part(
        (
            Moment(Fraction(0), (Note(1, 0),), ring=True),
            Moment(Fraction(1, 8), (Note(2, 1),), ring=True),
            Moment(Fraction(1, 4), (Note(3, 0),), ring=True),
        )
    )
    held = line_part("F4", "guitar 2")
    assert len(part_clashes(ringing, held, riff_of(ringing, held))) == 1
