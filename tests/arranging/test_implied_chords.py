import pytest

from tests.arranging.lines import line_part, riff_of
from trainer.arranging.chord_name import QUALITIES, chord_tones, name_chord
from trainer.arranging.implied_chords import implied_chords
from trainer.music.instrument import BASS, instrument
from trainer.music.part import TabPart


def implied(*parts: TabPart, key: str = "E aeolian") -> list[str]:
    return [chord.name for chord in implied_chords(parts, riff_of(*parts, key=key))]


def bass(text: str) -> TabPart:
    return line_part(text, "bass", instrument(BASS))


def test_power_chords_and_triads_are_named() -> None:
    assert implied(line_part("E3+B3"), bass("E1")) == ["E5"]
    assert implied(line_part("G2+D3+B3"), bass("G1")) == ["G"]
    assert implied(line_part("A2+C4+E4"), bass("A1")) == ["Am"]


def test_two_guitars_in_thirds_over_a_bass_make_a_chord() -> None:
    assert implied(line_part("G4"), line_part("B4", "guitar 2"), bass("E1")) == ["Em"]


def test_another_bass_note_is_written_under_the_chord() -> None:
    assert implied(line_part("C3+E3+G3"), bass("E1")) == ["C/E"]


def test_notes_that_nobody_plays_are_not_made_up() -> None:
    assert implied(line_part("E3+D4"), bass("E1")) == ["E5"]  # no seventh chord without its third and fifth
    assert implied(line_part("C3+B3"), bass("C2")) == ["C5"]
    assert implied(line_part("A2+E3+G3"), bass("G1"), key="A aeolian") == ["Am7/G"]  # the key's third, not another


def test_one_note_alone_is_no_chord() -> None:
    assert implied(line_part("E3"), bass("E1")) == ["E alone"]


def test_chords_go_on_until_the_name_changes() -> None:
    guitar = line_part("E3+B3 E3+B3 E3+B3 E3+B3 G3+D4 G3+D4")
    (first, second) = implied_chords((guitar, bass("E1 E1 E1 E1 G1 G1")), riff_of(guitar))
    assert (first.name, first.bar, first.offset * 8, first.length * 8) == ("E5", 1, 0, 4)
    assert (second.name, second.offset * 8) == ("G5", 4)


def test_notes_outside_the_chord_are_told() -> None:
    guitar = line_part("E3+G3+B3 A4")
    (chord,) = implied_chords((guitar, bass("E1")), riff_of(guitar))[:1]
    assert chord.name == "Em"
    assert [str(name) for name in chord.outside] == ["A"]


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
    assert implied(line_part(text)) == []
