from dataclasses import replace
from fractions import Fraction

import pytest

from tests.arranging.lines import GUITAR, eighths, harmony, line_part, midis, riff_of, sounds, tab_part
from trainer.arranging.realise import realise
from trainer.music.instrument import BASS, instrument
from trainer.music.interval import Distance
from trainer.music.note import Attack, DrumMoment, Hit, Moment, Note, Touch
from trainer.music.part import DrumPart, HarmonyException, Part, TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff


def second(riff: Riff) -> TabPart:
    part = riff.part("guitar 2")
    assert isinstance(part, TabPart)
    return part


def follow(line: Part, interval: str, key: str = "E aeolian", **fields: object) -> TabPart:
    return second(realise(riff_of(line, harmony(interval, **fields), key=key)))


@pytest.mark.parametrize(
    ("interval", "expected"),
    [
        ("third above", "G4 A4 B4 C5 D5 E5 F#5 G5"),
        ("third below", "C4 D4 E4 F#4 G4 A4 B4 C5"),
        ("fourth above", "A4 B4 C5 D5 E5 F#5 G5 A5"),
        ("fifth above", "B4 C5 D5 E5 F#5 G5 A5 B5"),
        ("sixth below", "G3 A3 B3 C4 D4 E4 F#4 G4"),
        ("octave above", "E5 F#5 G5 A5 B5 C6 D6 E6"),
        ("perfect fourth above", "A4 B4 C5 D5 E5 F5 G5 A5"),
        ("perfect fifth below", "A3 B3 C4 D4 E4 F4 G4 A4"),
    ],
)
def test_a_harmony_moves_in_the_key_or_exactly(interval: str, expected: str) -> None:
    assert midis(follow(line_part("E4 F#4 G4 A4 B4 C5 D5 E5"), interval)) == sounds(expected)


def test_exceptions_take_their_own_interval() -> None:
    line = line_part("E4 F#4 G4 A4")
    own = HarmonyException(1, Fraction(3, 8), Distance.parse("fourth below"))
    assert midis(follow(line, "third above", exceptions=(own,))) == sounds("G4 A4 B4 E4")


def test_an_exception_without_a_note_is_told() -> None:
    own = HarmonyException(2, Fraction(3, 8), Distance.parse("fourth below"))
    with pytest.raises(ProblemsError, match="exception in bar 2, where no note starts"):
        follow(line_part("E4 F#4 G4 A4"), "third above", exceptions=(own,))


def test_near_keeps_the_hand_close_to_a_fret() -> None:
    low = follow(line_part("E4 F#4 G4 A4"), "third below", near=3)
    high = follow(line_part("E4 F#4 G4 A4"), "third below", near=15)
    assert midis(low) == midis(high)
    assert max(note.fret for bar in low.bars for moment in bar for note in moment.notes) <= 5
    assert min(note.fret for bar in high.bars for moment in bar for note in moment.notes) >= 12


def test_a_third_part_follows_the_second() -> None:
    line = line_part("E4 G4")
    riff = riff_of(harmony("third above", "guitar 3", "guitar 2"), harmony("third above"), line)
    assert realise(riff).part_names == ("guitar 3", "guitar 2", "guitar 1")
    assert midis(realise(riff).part("guitar 3")) == sounds("B4 D5")


def test_each_voice_bends_to_its_own_goal() -> None:
    bent = replace(Note(2, 8), bend=10)  # G4 bent a whole tone to A4
    found = follow(tab_part(eighths(bent)), "third above").bars[0][0].notes[0]
    assert found.bend is not None
    assert found.bend - found.fret == 1  # B4 bent a semitone to C5
    exact = follow(tab_part(eighths(bent)), "perfect fourth above").bars[0][0].notes[0]
    assert exact.bend is not None
    assert exact.bend - exact.fret == 2


def test_a_bend_is_released_in_each_voice() -> None:
    bent = replace(Note(2, 8), bend=10, release=8)
    found = follow(tab_part(eighths(bent)), "third above").bars[0][0].notes[0]
    assert found.release == found.fret


def test_hammer_ons_follow_the_direction_of_the_harmony() -> None:
    line = tab_part(eighths(Note(2, 5), Note(2, 8, Attack.HAMMER), Note(2, 5, Attack.PULL)))
    found = [moment.notes[0] for moment in follow(line, "third above").bars[0]]
    assert [note.attack for note in found] == [Attack.PICK, Attack.HAMMER, Attack.PULL]
    assert len({note.string for note in found}) == 1
    falling = (HarmonyException(1, Fraction(1, 8), Distance.parse("second below")),)  # G4 F4 G4
    found = [moment.notes[0] for moment in follow(line, "third above", exceptions=falling).bars[0]]
    assert [note.attack for note in found] == [Attack.PICK, Attack.PULL, Attack.HAMMER]


def test_a_repeated_pitch_is_picked_not_hammered() -> None:
    line = tab_part(eighths(Note(2, 5), Note(2, 8, Attack.HAMMER)))
    same = (HarmonyException(1, Fraction(1, 8), Distance.parse("unison above")),)
    found = [moment.notes[0] for moment in follow(line, "third above", exceptions=same).bars[0]]
    assert found[1].attack is Attack.PICK


def test_marks_and_rests_are_the_lines_own() -> None:
    first = Moment(Fraction(0), (Note(2, 8, vibrato=True, short=True),), mute=True, accent=">", pick="d", chord="Em")
    rest = Moment(Fraction(1, 4), rest=True)
    ring = Moment(Fraction(1, 2), (Note(2, 8),), ring=True)
    found = follow(tab_part((first, rest, ring)), "third above").bars[0]
    assert (found[0].mute, found[0].accent, found[0].pick, found[0].chord) == (True, ">", "d", "")
    assert found[0].notes[0].vibrato
    assert found[0].notes[0].short
    assert found[1] == rest
    assert found[2].ring
    assert [moment.offset for moment in found] == [0, Fraction(1, 4), Fraction(1, 2)]


def test_a_dead_note_stays_dead_and_a_harmonic_sounds_the_answer() -> None:
    line = tab_part(eighths(Note(6, 0, touch=Touch.DEAD), Note(5, 12, touch=Touch.HARMONIC)))
    dead, fretted = (moment.notes[0] for moment in follow(line, "fifth above").bars[0])
    assert dead.touch is Touch.DEAD
    assert fretted.touch is Touch.HARMONIC  # E4, over A3's seventh fret
    assert (fretted.string, fretted.fret) in {(5, 7), (6, 5), (5, 19)}


def test_chords_are_answered_note_by_note_on_strings_of_their_own() -> None:
    found = follow(line_part("E3+B3 G3+D4"), "octave above")
    assert sorted(midis(found)[:2]) == sounds("E4 B4")
    assert all(len({note.string for note in moment.notes}) == 2 for moment in found.bars[0])


def test_a_note_above_the_neck_is_named_with_its_bar() -> None:
    line = tab_part((), (Moment(Fraction(0), (Note(1, 22),)),))
    with pytest.raises(ProblemsError, match="bar 2: the answer to D6 is F#6, above the neck's highest, E6") as caught:
        realise(riff_of(line, harmony("third above")), "song.md")
    assert caught.value.problems[0].file == "song.md"


def test_a_harmony_can_be_played_on_another_neck() -> None:
    found = follow(line_part("E3 G3"), "octave below", instrument=instrument(BASS))
    assert found.instrument.strings == 4
    assert midis(found) == sounds("E2 G2")


def test_following_drums_nobody_or_itself_is_told() -> None:
    drums = DrumPart("drums", ((DrumMoment(Fraction(0), (Hit("kick"),)),),))
    line = line_part("E4")
    with pytest.raises(ProblemsError, match="'drums', which has no pitches"):
        realise(riff_of(line, drums, harmony("third above", follows="drums")))
    with pytest.raises(ProblemsError, match=r'not in this riff.*Write follows = "guitar 1"'):
        realise(riff_of(line, harmony("third above", follows="guitar 11")))
    with pytest.raises(ProblemsError, match="follows itself"):
        realise(riff_of(line, harmony("third above", "a", "b"), harmony("third above", "b", "a")))


def test_a_riff_without_harmonies_is_itself() -> None:
    riff = riff_of(line_part("E4", neck=GUITAR))
    assert realise(riff) is riff
