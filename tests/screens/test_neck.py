"""The neck shows where both hands are."""

from fractions import Fraction

from tests.playback.riffs import exercise, guitar, riff
from tests.screens.music import piece
from trainer.music.note import Moment, Note
from trainer.playback.piece import Piece
from trainer.screens.drawing.neck import HandOnNeck, Hands, draw_neck

STRINGS = "EBGDAE"


def test_both_hands_are_told_by_letter_and_stand_on_string_and_fret() -> None:
    hands = Hands(piece(2), {"guitar 1": "A", "guitar 2": "B"})
    first, second = hands.at(Fraction(1) + Fraction(1, 8), 1)
    assert first.letter == "A" and first.held == ((6, 1, ""),)
    assert second.letter == "B" and second.held == ((2, 7, ""),)
    rows = [row.text for row in draw_neck(STRINGS, 24, (first, second), 110)]
    assert "A" in rows[5][4:] and "B" in rows[1][4:]
    assert "A" not in rows[1][4:]


def test_two_hands_on_one_place_show_both_letters() -> None:
    hands = (HandOnNeck("A", ((3, 5, ""),), (5, 5)), HandOnNeck("B", ((3, 5, ""),), (5, 5)))
    assert "AB" in draw_neck(STRINGS, 24, hands, 110)[2].text


def test_an_open_string_stands_before_the_nut_and_a_finger_beside_its_letter() -> None:
    hands = (HandOnNeck("A", ((6, 0, ""), (5, 2, "3")), (2, 2)),)
    rows = [row.text for row in draw_neck(STRINGS, 24, hands, 110)]
    assert rows[5].index("A") < rows[5].index("█")
    assert "A3" in rows[4]


def test_a_high_hand_moves_the_frets_in_view() -> None:
    hands = (HandOnNeck("A", ((1, 24, ""),), (22, 24)),)
    rows = [row.text for row in draw_neck(STRINGS, 24, hands, 50)]
    assert "A" in rows[0]
    assert "24" in rows[6] and " 1 " not in rows[6]


def test_the_reach_of_a_bar_is_told_in_words_and_a_ringing_chord_is_held() -> None:
    bar = (Moment(Fraction(0), (Note(3, 9), Note(4, 9), Note(5, 7)), ring=True),)
    one = riff(guitar(bar))
    hand = Hands(Piece.of(exercise(one), (one,)), {"guitar 1": "A"}).at(Fraction(3, 4), 0)[0]
    assert [string for string, _, _ in hand.held] == [3, 4, 5]
    assert hand.reach == (7, 9)
    assert "frets 7-9" in draw_neck(STRINGS, 24, (hand,), 110)[7].text


def test_the_stroke_of_what_sounds_stands_before_the_hands_reach() -> None:
    bar = (
        Moment(Fraction(0), (Note(3, 9),), pick="d"),
        Moment(Fraction(1, 4), (Note(3, 7),), pick="u"),
        Moment(Fraction(1, 2), rest=True),
    )
    one = riff(guitar(bar))
    hands = Hands(Piece.of(exercise(one), (one,)), {"guitar 1": "A"})
    strokes = [hands.at(place, 0)[0].stroke for place in (Fraction(0), Fraction(3, 8), Fraction(1, 2))]
    assert strokes == ["d", "u", ""]
    assert draw_neck(STRINGS, 24, hands.at(Fraction(1, 4), 0), 110)[7].text.startswith(" A V")


def test_before_the_first_note_there_is_no_stroke() -> None:
    one = riff(guitar((Moment(Fraction(1, 2), (Note(3, 9),), pick="d"),)))
    hands = Hands(Piece.of(exercise(one), (one,)), {"guitar 1": "A"})
    assert hands.at(Fraction(0), 0)[0].stroke == ""
