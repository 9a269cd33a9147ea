from fractions import Fraction

import pytest

from tests.arranging.lines import eighths, riff_of, tab_part
from trainer.arranging.strokes import CrossingKind, Picking, crossings, rule_words, strokes, with_strokes
from trainer.music.note import Attack, Moment, Note


def bar(offsets: str, string: int = 6, **marks: object) -> tuple[Moment, ...]:
    return tuple(Moment(Fraction(o), (Note(string, 0),), **marks) for o in offsets.split())  # type: ignore[arg-type]


def directions(*bars: tuple[Moment, ...], picking: Picking = Picking.ALTERNATE, meter: str = "4/4") -> str:
    part = tab_part(*bars)
    return "".join(stroke.direction for stroke in strokes(part, riff_of(part, meter=meter), picking))


def test_a_gallop_is_down_down_up() -> None:
    assert directions(bar("0 1/8 3/16 1/4 3/8 7/16")) == "ddudd" + "u"


def test_a_reverse_gallop_is_down_up_down() -> None:
    assert directions(bar("0 1/16 1/8 1/4 5/16 3/8")) == "duddud"


def test_eighths_and_sixteenths_alternate() -> None:
    assert directions(bar("0 1/8 1/4 3/8")) == "dudu"
    assert directions(bar("0 1/16 1/8 3/16 1/4 5/16 3/8 7/16")) == "dudududu"


def test_triplets_swing_on_through_the_beats() -> None:
    assert directions(bar("0 1/12 1/6 1/4 1/3 5/12 1/2 3/4")) == "dud" + "udu" + "d" + "d"


def test_eighths_of_twelve_eight_swing_in_threes() -> None:
    assert directions(bar("0 1/8 2/8 3/8 4/8 5/8"), meter="12/8") == "dududu"


def test_off_beats_are_up() -> None:
    assert directions(bar("1/8 3/8")) == "uu"


def test_written_strokes_are_kept_and_hammer_ons_take_none() -> None:
    assert directions(bar("0 1/8", pick="u")) == "uu"
    assert directions(eighths(Note(2, 5), Note(2, 7, Attack.HAMMER), Note(2, 5, Attack.PULL), Note(2, 7))) == "du"


def test_all_down_is_all_down() -> None:
    assert directions(bar("0 1/16 1/8 3/16"), picking=Picking.ALL_DOWN) == "dddd"


def test_economy_goes_on_across_neighbouring_strings() -> None:
    up_the_strings = eighths(Note(3, 5), Note(3, 7), Note(3, 9), Note(2, 5), Note(2, 7), Note(2, 8), Note(1, 5))
    assert directions(up_the_strings) == "dududud"
    assert directions(up_the_strings, picking=Picking.ECONOMY) == "dud" + "dud" + "d"


@pytest.mark.parametrize(
    ("first", "second", "picks", "passage"),
    [  # a down stroke moves toward the thin strings and ends on that side
        (3, 2, "du", CrossingKind.OUTSIDE),
        (3, 2, "ud", CrossingKind.INSIDE),
        (2, 3, "du", CrossingKind.INSIDE),
        (2, 3, "ud", CrossingKind.OUTSIDE),
        (3, 2, "dd", CrossingKind.SWEEP),
        (3, 2, "uu", CrossingKind.JUMP),
        (2, 3, "uu", CrossingKind.SWEEP),
        (2, 3, "dd", CrossingKind.JUMP),
    ],
)
def test_string_changes_are_inside_outside_swept_or_jumped(
    first: int, second: int, picks: str, passage: CrossingKind
) -> None:
    moments = (
        Moment(Fraction(0), (Note(first, 5),), pick=picks[0]),
        Moment(Fraction(1, 8), (Note(second, 5),), pick=picks[1]),
    )
    part = tab_part(moments)
    (found,) = crossings(strokes(part, riff_of(part)))
    assert (found.passage, found.strings, found.at) == (passage, 1, Fraction(1, 8))


def test_a_chord_that_shares_a_string_is_not_crossed_to() -> None:
    part = tab_part((Moment(Fraction(0), (Note(4, 7), Note(5, 5))), Moment(Fraction(1, 8), (Note(4, 7),))))
    assert crossings(strokes(part, riff_of(part))) == ()


def test_strokes_are_written_into_the_part() -> None:
    part = tab_part(bar("0 1/8 3/16"))
    assert [moment.pick for moment in with_strokes(part, riff_of(part)).bars[0]] == ["d", "d", "u"]


def test_eighths_among_sixteenths_are_all_down() -> None:
    assert directions(bar("0 1/8 1/4 3/8 1/2 5/8 11/16 3/4 7/8")) == "dddd" + "ddu" + "dd"


def test_a_gallop_can_be_asked_for_as_down_up_down() -> None:
    assert directions(bar("0 1/8 3/16 1/4 3/8 7/16"), picking=Picking.DOWN_UP_DOWN) == "dudd" + "ud"


def test_the_rule_of_the_strokes_is_told() -> None:
    part = tab_part(bar("0 1/8 3/16"))
    assert rule_words(part, riff_of(part), Picking.ALTERNATE) == (
        "Strokes: alternate on a grid of sixteenths, down on the even slots and up between."
    )
