from dataclasses import replace
from fractions import Fraction

import pytest

from tests.arranging.lines import eighths, line_part, midis, riff_of, tab_part
from trainer.arranging.fingered import finger, fingerings
from trainer.arranging.grip import Limits
from trainer.arranging.hand import Hand, fret_mm
from trainer.music.instrument import BASS, instrument
from trainer.music.note import Attack, Moment, Note, Touch
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError


def notes(part: TabPart) -> list[Note]:
    return [note for bar in part.bars for moment in bar for note in moment.notes]


def test_what_is_written_is_kept_and_fingers_are_added() -> None:
    part = tab_part(eighths(Note(5, 7), Note(5, 9), Note(5, 10), Note(4, 7)))
    found = finger(part, riff_of(part))
    assert [(note.string, note.fret) for note in notes(found.part)] == [(5, 7), (5, 9), (5, 10), (4, 7)]
    assert [note.finger for note in notes(found.part)] == ["1", "3", "4", "1"]
    assert found.troubles == ()


def test_a_partly_fingered_line_is_completed() -> None:
    part = tab_part(eighths(Note(5, 7, finger="2"), Note(5, 9), Note(5, 10)))
    found = finger(part, riff_of(part))
    assert notes(found.part)[0].finger == "2"
    assert all(note.finger for note in notes(found.part))


def test_a_thumb_that_is_written_stays() -> None:
    chord = Moment(Fraction(0), (Note(4, 5, finger="3"), Note(5, 5), Note(6, 3, finger="T")))
    part = tab_part((chord,))
    assert notes(finger(part, riff_of(part)).part)[-1].finger == "T"


def test_a_line_is_found_anew_with_the_same_pitches() -> None:
    part = line_part("E4 F#4 G4 A4")
    found = finger(part, riff_of(part), anew=True, limits=Limits(near=12))
    assert midis(found.part) == midis(part)
    assert all(9 <= note.fret <= 16 for note in notes(found.part))


def test_bends_and_harmonics_move_with_their_notes() -> None:
    bent = replace(Note(1, 3), bend=5, release=3)
    part = tab_part(eighths(bent, Note(5, 12, touch=Touch.HARMONIC), Note(6, 0, touch=Touch.DEAD)))
    first, second, third = notes(finger(part, riff_of(part), anew=True, limits=Limits(near=12)).part)
    assert first.bend is not None
    assert (first.bend - first.fret, first.release) == (2, first.fret)
    assert second.touch is Touch.HARMONIC
    assert third.touch is Touch.DEAD


def test_every_way_keeps_the_pitches_and_the_rhythm() -> None:
    part = line_part("E4 F#4 r A4 | B4 C5 D5 E5")
    ways = fingerings(part, riff_of(part), 3, anew=True)
    assert len(ways) == 3
    for way in ways:
        assert midis(way.part) == midis(part)
        assert [[m.offset for m in bar] for bar in way.part.bars] == [[m.offset for m in bar] for bar in part.bars]


def test_hammer_ons_and_slides_stay_on_their_string() -> None:
    part = tab_part(
        eighths(Note(2, 5), Note(2, 8, Attack.HAMMER), Note(2, 5, Attack.PULL), Note(2, 10, Attack.SLIDE_UP))
    )
    found = notes(finger(part, riff_of(part), anew=True).part)
    assert len({note.string for note in found}) == 1
    assert found[2].finger == found[3].finger  # a slide keeps its finger
    assert found[0].finger != found[1].finger


def test_an_impossible_stretch_is_told_with_its_bar() -> None:
    part = tab_part((), (Moment(Fraction(1, 4), (Note(5, 11), Note(6, 1))),))
    (trouble,) = finger(part, riff_of(part)).troubles
    assert (trouble.bar, trouble.offset) == (2, Fraction(1, 4))
    assert trouble.what == "no hand stretches from fret 1 to fret 11 here"


def test_a_hammer_on_beyond_the_hand_is_told() -> None:
    part = tab_part(eighths(Note(2, 1), Note(2, 9, Attack.HAMMER)))
    (trouble,) = finger(part, riff_of(part)).troubles
    assert "farther than the hand" in trouble.what


def test_a_ringing_chord_is_held_while_it_rings() -> None:
    moments = tuple(
        Moment(Fraction(number, 8), (note,), ring=True)
        for number, note in enumerate((Note(5, 3), Note(4, 2), Note(3, 0), Note(2, 1)))
    )
    part = tab_part(moments)
    found = finger(part, riff_of(part))
    assert found.troubles == ()
    assert [note.finger for note in notes(found.part)] == ["3", "2", "", "1"]
    assert [len(grip.notes) for grip in found.fingering.grips] == [1, 2, 3, 4]


def test_ringing_notes_that_no_hand_holds_are_let_go_and_told() -> None:
    moments = tuple(
        Moment(Fraction(number, 8), (note,), ring=True) for number, note in enumerate((Note(6, 1), Note(1, 12)))
    )
    part = tab_part(moments)
    (trouble,) = finger(part, riff_of(part)).troubles
    assert trouble.what == "a note that should ring on must be let go"


def test_three_fingers_do_without_the_fourth() -> None:
    part = line_part("A4 A#4 B4 C5")
    found = finger(part, riff_of(part), hand=Hand(fingers=(1, 2, 3)), anew=True)
    assert "4" not in [note.finger for note in notes(found.part)]


def test_limits_that_exclude_a_note_name_it_with_its_bar() -> None:
    part = line_part("E4 | E3")
    with pytest.raises(ProblemsError, match="bar 2: E3 cannot be played on strings 1 to 3"):
        finger(part, riff_of(part), anew=True, limits=Limits(strings=(1, 3)))


def test_the_slower_tempo_costs_less() -> None:
    part = tab_part(eighths(Note(1, 5), Note(1, 17), Note(1, 5)))
    riff = riff_of(part)
    assert finger(part, riff, bpm=Fraction(60)).cost < finger(part, riff, bpm=Fraction(240)).cost


def test_rests_alone_need_no_fingers() -> None:
    part = tab_part((Moment(Fraction(0), rest=True),))
    assert finger(part, riff_of(part)).part == part


def test_a_ringing_string_that_is_struck_again_is_not_held_as_well() -> None:
    moments = tuple(Moment(Fraction(number, 8), (Note(5, 3),), ring=True) for number in range(2))
    part = tab_part(moments)
    assert [len(grip.notes) for grip in finger(part, riff_of(part)).fingering.grips] == [1, 1]


def test_a_bass_is_longer_than_a_guitar() -> None:
    assert fret_mm(instrument(BASS), 12) == pytest.approx(432)
    assert fret_mm(instrument(), 12) == pytest.approx(324)
    assert fret_mm(instrument(capo=2), 10) == pytest.approx(648 * (2 ** (-2 / 12) - 0.5))


def test_fingers_that_are_written_across_each_other_are_kept_and_told() -> None:
    crossed = Moment(Fraction(0), (Note(1, 1, finger="3"), Note(2, 3, finger="1")))
    twice = Moment(Fraction(1, 2), (Note(1, 1, finger="2"), Note(2, 3, finger="2")))
    part = tab_part((crossed, twice))
    found = finger(part, riff_of(part))
    assert [note.finger for note in notes(found.part)] == ["3", "1", "2", "2"]
    assert [one.what for one in found.troubles] == ["the fingers that are written cannot stand there together"] * 2


def test_a_muted_pedal_note_stays_on_its_open_string_where_the_line_lies_higher() -> None:
    """D3 galloped palm-muted under notes at the fifth fret and above: the open fourth string, not the fifth fret."""
    pedal = [Moment(Fraction(n, 16), (Note(4, 0),), mute=True) for n in (0, 2, 3, 8, 10, 11)]
    line = [Moment(Fraction(4, 16), (Note(5, 8),)), Moment(Fraction(6, 16), (Note(5, 7),))]
    part = tab_part(tuple(sorted([*pedal, *line], key=lambda moment: moment.offset)))
    found = finger(part, riff_of(part), anew=True).part
    assert {(n.string, n.fret) for bar in found.bars for m in bar if m.mute for n in m.notes} == {(4, 0)}
