from fractions import Fraction

import pytest

from tests.arranging.lines import line_part, riff_of, tab_part
from trainer.arranging.chord_name import QUALITIES, chord_tones, name_chord, read_chord
from trainer.arranging.played_chords import numeral, played_chords, unknown_chord_names
from trainer.music.instrument import BASS, instrument
from trainer.music.key import Key
from trainer.music.note import Moment, Note
from trainer.music.part import TabPart


def played(*parts: TabPart, key: str = "E aeolian") -> list[str]:
    return [chord.name for chord in played_chords(riff_of(*parts, key=key))]


def bass(text: str) -> TabPart:
    return line_part(text, "bass", instrument(BASS))


def test_power_chords_and_triads_are_named() -> None:
    assert played(line_part("E3+B3"), bass("E1")) == ["E5"]
    assert played(line_part("G2+D3+B3"), bass("G1")) == ["G"]
    assert played(line_part("A2+C4+E4"), bass("A1")) == ["Am"]


def test_two_guitars_in_thirds_over_a_bass_make_a_chord() -> None:
    assert played(line_part("G4"), line_part("B4", "guitar 2"), bass("E1")) == ["Em"]


def test_lines_that_move_over_a_bass_make_none() -> None:
    assert played(line_part("G4 A4 B4 C5"), line_part("B4 C5 D5 E5", "guitar 2"), bass("E1")) == []


def test_another_bass_note_is_written_under_the_chord() -> None:
    assert played(line_part("C3+E3+G3"), bass("E1")) == ["C/E"]


def test_notes_that_nobody_plays_are_not_made_up() -> None:
    assert played(line_part("E3+D4"), bass("E1")) == []  # no seventh chord without its third and fifth
    assert played(line_part("C3+B3"), bass("C2")) == []
    (chord,) = played_chords(riff_of(line_part("G3+B3+G4"), bass("G1")))
    assert (chord.name, [str(name) for name in chord.missing]) == ("G", ["D"])
    assert chord.confidence < 1


def test_one_note_alone_is_no_chord() -> None:
    assert played(line_part("E3"), bass("E1")) == []


def test_a_melody_and_a_finger_drill_are_no_chords() -> None:
    assert played(line_part("E3 F#3 G3 A3 B3 A3 G3 F#3"), bass("E1")) == []
    assert played(line_part("G3 G#3 A3 A#3 C4 C#4 D4 D#4")) == []


def test_an_arpeggio_is_one_chord_whatever_its_slices_hold() -> None:
    assert played(line_part("A2 E3 A3 C4 E4 C4 A3 E3"), bass("A1")) == ["Am"]


def test_chords_go_on_until_the_name_changes() -> None:
    guitar = line_part("E3+B3 E3+B3 E3+B3 E3+B3 G3+D4 G3+D4")
    (first, second) = played_chords(riff_of(guitar, bass("E1 E1 E1 E1 G1 G1")))
    assert (first.name, first.bar, first.offset * 8, first.length * 8) == ("E5", 1, 0, 4)
    assert (second.name, second.offset * 8) == ("G5", 4)


def test_written_names_come_first_and_unknown_ones_are_told() -> None:
    part = tab_part(
        (Moment(Fraction(0), (Note(6, 0),), chord="Em7"), Moment(Fraction(1, 2), (Note(6, 3),), chord="wide")),
    )
    riff = riff_of(part)
    assert [(chord.name, chord.source, chord.numeral) for chord in played_chords(riff)] == [("Em7", "written", "i7")]
    assert unknown_chord_names(riff) == ((1, Fraction(1, 2), "wide"),)


def test_degrees_are_told_in_the_key() -> None:
    key = Key.parse("A harmonic minor")
    names = ("Am", "Bdim", "E7", "F", "G#dim7", "A5", "Bb")
    asked = [read_chord(name) for name in names]
    found = [numeral(one[0], one[1], key) for one in asked if one]
    assert found == ["i", "ii°", "V7", "VI", "vii°7", "I5", "bII"]


def test_chord_names_are_read_and_found_again() -> None:
    assert chord_tones("Em") == {4, 7, 11}
    assert chord_tones("F#m7b5/E") == {6, 9, 0, 4}
    assert chord_tones("C/D") == {0, 2, 4, 7}
    assert chord_tones("say what") is None
    for quality, shape in QUALITIES.items():
        tones = frozenset((4 + tone) % 12 for tone in shape)
        root, name = name_chord(tones, 4) or (None, None)
        assert root == 4
        assert {(4 + tone) % 12 for tone in QUALITIES[str(name)]} == tones, quality
    assert name_chord(frozenset({0, 1, 2}), 0) is None


@pytest.mark.parametrize("text", ["", "r r"])
def test_silence_implies_nothing(text: str) -> None:
    assert played(line_part(text)) == []
