"""The interval line names what two parts make together."""

from fractions import Fraction

import pytest

from tests.playback.riffs import band, exercise, guitar, riff
from trainer.arranging.realise import realise_exercise
from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.note import Moment, Note, Touch
from trainer.notation.files import read_file
from trainer.places import bundled
from trainer.screens.drawing.score import interval_between, interval_name, intervals_of

E_AEOLIAN = Key.parse("E aeolian")


@pytest.mark.parametrize(
    ("one", "other", "name", "full"),
    [(64, 67, "3", "m3"), (67, 64, "3", "m3"), (60, 64, "3", "M3"), (64, 69, "4", "P4"), (64, 71, "5", "P5"),
     (64, 72, "6", "m6"), (64, 76, "8", "P8"), (64, 64, "1", "P1"), (54, 60, "5", "d5"), (60, 66, "4", "A4"),
     (64, 79, "10", "m10"), (40, 64, "8", "P8"), (40, 67, "3", "m3"), (40, 71, "5", "P5")],
)  # fmt: skip
def test_intervals_are_named_as_the_key_spells_them(one: int, other: int, name: str, full: str) -> None:
    found = interval_between(E_AEOLIAN, one, other)
    assert (interval_name(found, quality=False), interval_name(found, quality=True)) == (name, full)


def test_only_notes_that_both_start_are_named() -> None:
    found = intervals_of(band(1), 0, "guitar 1", "guitar 2")
    assert list(found) == [Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)]


def test_of_chords_the_highest_notes_count_and_dead_notes_do_not() -> None:
    low = (Moment(Fraction(0), (Note(5, 2), Note(6, 0))), Moment(Fraction(1, 4), (Note(6, 0, touch=Touch.DEAD),)))
    high = (Moment(Fraction(0), (Note(4, 2),)), Moment(Fraction(1, 4), (Note(4, 2),)))
    one = riff(guitar(low), guitar(high, name="guitar 2"))
    assert intervals_of(one, 0, "guitar 1", "guitar 2") == {Fraction(0): Interval(3, 5)}


def test_a_harmony_in_fifths_is_fifths_all_along() -> None:
    path = bundled("exercises") / "fifth-beacon.md"
    first = realise_exercise(read_file(path)).riffs[0]
    names = {
        interval_name(interval, quality=True)
        for bar in range(len(first.meters))
        for interval in intervals_of(first, bar, "guitar 1", "guitar 2").values()
    }
    assert names == {"P5"}


def test_a_part_that_is_not_there_makes_no_intervals() -> None:
    one = band(1)
    assert intervals_of(one, 0, "guitar 1", "drums") == {}
    assert exercise(one).riffs[0].part("guitar 9") is None
