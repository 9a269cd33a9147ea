from dataclasses import replace
from fractions import Fraction

import pytest

from tests.arranging.lines import eighths, harmony, line_part, midis, riff_of, sounds, tab_part
from trainer.arranging.clash import clashes
from trainer.arranging.realise import harmony_problems, realise, realise_told
from trainer.music.instrument import BASS, instrument
from trainer.music.interval import Distance
from trainer.music.note import Attack, Moment, Note
from trainer.music.part import HarmonyException, HarmonyPart, PedalNote, TabPart
from trainer.music.pitch import Pitch
from trainer.music.problem import ProblemsError


def answers(line: str, interval: str, key: str = "E aeolian", **fields: object) -> list[int]:
    return midis(realise(riff_of(line_part(line), harmony(interval, **fields), key=key)).part("guitar 2"))


def test_a_pedal_stays_whatever_the_line_does() -> None:
    part = HarmonyPart("guitar 2", "guitar 1", PedalNote(Pitch.parse("E3")))
    assert midis(realise(riff_of(line_part("E4 F#4 A4 G4"), part)).part("guitar 2")) == sounds("E3 E3 E3 E3")


def test_a_pedal_holds_bends_and_picks_hammer_ons() -> None:
    line = tab_part(eighths(Note(2, 8, bend=10), Note(2, 5), Note(2, 8, Attack.HAMMER)))
    found = realise(riff_of(line, HarmonyPart("guitar 2", "guitar 1", PedalNote(Pitch.parse("E3"))))).part("guitar 2")
    assert isinstance(found, TabPart)
    notes = [moment.notes[0] for moment in found.bars[0]]
    assert all(note.bend is None and note.attack is Attack.PICK for note in notes)


def test_contrary_motion_falls_where_the_line_rises() -> None:
    assert answers("E4 F#4 G4 B4 E4", "third below", contrary=True) == sounds("C4 B3 A3 F#3 C4")


def test_contrary_motion_begins_anew_after_a_rest() -> None:
    assert answers("E4 F#4 r G4 A4", "third below", contrary=True) == sounds("C4 B3 E4 D4")


def test_exact_contrary_motion_mirrors_semitones() -> None:
    assert answers("E4 F#4 G4", "perfect octave below", contrary=True) == sounds("E3 D3 C#3")


def test_a_voice_that_cannot_bend_down_holds() -> None:
    line = tab_part(eighths(Note(2, 8, bend=10)))
    found = realise(riff_of(line, harmony("third below", contrary=True))).part("guitar 2")
    assert isinstance(found, TabPart)
    assert found.bars[0][0].notes[0].bend is None


def test_a_mode_change_holds_for_its_bar_like_an_accidental() -> None:
    # third above A is C; in a bar whose line has C# (dorian) it is C#, until the line takes C back
    assert answers("A4 B4 C#5 A4 | A4 C5 A4", "third above") == sounds("C5 D5 E5 C#5 C5 E5 C5")
    assert answers("A4 C#5 A4 C5 A4", "third above") == sounds("C5 E5 C#5 E5 C5")


def test_a_range_moves_by_octaves_and_tells() -> None:
    within = (Pitch.parse("E3"), Pitch.parse("E5"))
    told = realise_told(riff_of(line_part("E4 D5 E5"), harmony("third above", within=within)))
    assert midis(told.riff.part("guitar 2")) == sounds("G4 F#4 G4")
    assert [(name, change.bar, str(change.asked), str(change.played), change.why) for name, change in told.changes] == [
        ("guitar 2", 1, "F#5", "F#4", "range"),
        ("guitar 2", 1, "G5", "G4", "range"),
    ]


def test_a_range_that_holds_no_octave_is_told() -> None:
    within = (Pitch.parse("E4"), Pitch.parse("F#4"))
    with pytest.raises(ProblemsError, match="in no octave between E4 and F#4"):
        answers("E4 F#4", "third above", within=within)


def test_without_a_range_nothing_moves_by_octaves() -> None:
    with pytest.raises(ProblemsError, match="below the neck's lowest, E2"):
        answers("E2", "third below")


def test_frets_keep_the_hand_in_a_position() -> None:
    found = realise(riff_of(line_part("E4 F#4 G4 A4"), harmony("third above", frets=(7, 11)))).part("guitar 2")
    assert isinstance(found, TabPart)
    assert all(7 <= note.fret <= 11 for moment in found.bars[0] for note in moment.notes)
    with pytest.raises(ProblemsError, match="cannot be played between frets 1 and 2"):
        answers("E4 F#4 G4 A4", "third above", frets=(1, 2))


def bass_part(text: str) -> TabPart:
    return line_part(text, "bass", instrument(BASS))


def test_a_clash_with_the_bass_takes_the_nearest_interval_that_does_not() -> None:
    riff = riff_of(line_part("E4 A4"), bass_part("F#1 A1"), harmony("third above", avoid=("bass",)))
    told = realise_told(riff)
    assert midis(told.riff.part("guitar 2")) == sounds("A4 C5")  # G over F# grates: a fourth instead
    ((name, change),) = told.changes
    assert (name, change.bar, change.offset) == ("guitar 2", 1, Fraction(0))
    assert (str(change.line), str(change.asked), str(change.played), change.why) == ("E4", "G4", "A4", "clash")


def test_a_wider_interval_is_tried_before_a_narrower_one() -> None:
    riff = riff_of(line_part("E4"), bass_part("C2"), harmony("fifth above", avoid=("bass",)))
    assert midis(realise(riff).part("guitar 2")) == sounds("C5")  # a sixth, not the fourth to A


def test_a_bass_note_that_has_ended_grates_no_more() -> None:
    riff = riff_of(line_part("r E4"), bass_part("F#1 A1"), harmony("third above", avoid=("bass",)))
    assert realise_told(riff).changes == ()


def test_a_note_that_the_other_part_sounds_too_does_not_grate() -> None:
    assert not clashes(4, frozenset({4, 5}))
    assert clashes(4, frozenset({5}))
    assert clashes(0, frozenset({11}))


def test_a_hammer_on_that_must_leave_its_string_is_picked() -> None:
    line = tab_part(eighths(Note(2, 5), Note(2, 8, Attack.HAMMER)))
    wide = (
        HarmonyException(1, Fraction(0), Distance.parse("octave below")),
        HarmonyException(1, Fraction(1, 8), Distance.parse("tenth above")),
    )
    found = realise(riff_of(line, harmony("third above", exceptions=wide))).part("guitar 2")
    assert isinstance(found, TabPart)
    first, second = (moment.notes[0] for moment in found.bars[0])
    assert first.string != second.string
    assert second.attack is Attack.PICK


def test_a_clash_with_the_chord_is_avoided() -> None:
    line = tab_part((Moment(Fraction(0), (Note(1, 0),), chord="D"), Moment(Fraction(1, 2), (Note(1, 5),))))
    told = realise_told(riff_of(line, harmony("third above", avoid=("chord",))))
    assert midis(told.riff.part("guitar 2")) == sounds("A4 C5")  # G would grate with the F# of D
    assert [change.why for _, change in told.changes] == ["clash"]


def test_a_clash_that_nothing_avoids_is_told() -> None:
    told = realise_told(
        riff_of(
            line_part("E4"),
            line_part("G#2+C#3+A#3+D#4", "guitar 3"),
            harmony("third above", avoid=("guitar 3",)),
        )
    )
    ((_, change),) = told.changes
    assert change.played == change.asked


def test_an_exception_is_kept_even_where_it_clashes() -> None:
    own = HarmonyException(1, Fraction(0), Distance.parse("third above"))
    riff = riff_of(line_part("E4 A4"), bass_part("F#1 A1"), harmony("third above", avoid=("bass",), exceptions=(own,)))
    assert realise_told(riff).changes == ()


def test_the_lead_is_handed_over_and_back() -> None:
    line = line_part("E4 G4 | A4 G4 | F#4 E4")
    found = realise(riff_of(line, harmony("third above", leads=((2, 2),))))
    assert midis(found.part("guitar 1")) == sounds("E4 G4 C5 B4 F#4 E4")
    assert midis(found.part("guitar 2")) == sounds("G4 B4 A4 G4 A4 G4")
    second = found.part("guitar 2")
    assert isinstance(second, TabPart)
    assert second.bars[1] == line.bars[1]  # the line keeps its places


def test_a_third_part_follows_the_melody_through_a_handover() -> None:
    line = line_part("E4 G4 | A4 G4")
    riff = riff_of(line, harmony("third above", leads=((2, 2),)), harmony("octave below", "guitar 3"))
    assert midis(realise(riff).part("guitar 3")) == sounds("E3 G3 A3 G3")


def test_a_handover_between_different_necks_finds_places_on_each() -> None:
    seven = instrument(("B1", "E2", "A2", "D3", "G3", "B3", "E4"))
    riff = riff_of(line_part("E4 G4 | A4 G4"), harmony("third above", leads=((1, 1),), instrument=seven))
    found = realise(riff)
    assert midis(found.part("guitar 1"))[:2] == sounds("G4 B4")
    assert midis(found.part("guitar 2"))[:2] == sounds("E4 G4")


def test_problems_are_found_without_a_fingering() -> None:
    bad = riff_of(line_part("E4"), harmony("third above", "guitar 2"), harmony("octave below", "guitar 3", "guitar 4"))
    (problem,) = harmony_problems(bad, "song.md")
    assert "'guitar 3'" in problem.what
    high = riff_of(tab_part((Moment(Fraction(0), (Note(1, 24),)),)), harmony("third above"))
    (problem,) = harmony_problems(high)
    assert "the answer to E6 is G6" in problem.what
    assert harmony_problems(riff_of(line_part("E4"), harmony("third above"))) == ()


def test_a_second_follows_a_chord_that_no_hand_can_hold() -> None:
    chord = Moment(Fraction(0), (Note(1, 0), Note(2, 0), Note(3, 0), Note(4, 0), Note(5, 0), Note(6, 0)))
    riff = riff_of(tab_part((chord,)), replace(harmony("perfect octave above"), instrument=instrument(("E3",))))
    with pytest.raises(ProblemsError, match="bar 1"):
        realise(riff)


def test_an_answer_that_could_not_be_bent_on_this_neck_is_told() -> None:
    line = tab_part((Moment(Fraction(0), (Note(1, 20, bend=22),)),))  # C6 to D6; E6 would have to reach F#6
    with pytest.raises(ProblemsError, match="is E6, which this neck has nowhere that it could be bent"):
        realise(riff_of(line, harmony("third above")))


def test_a_chromatic_note_changes_nothing_before_it() -> None:
    plain = answers("B4 B4 B4 C5", "third above")
    assert answers("B4 B4 B4 D#5", "third above")[:3] == plain[:3]


@pytest.mark.parametrize(("note", "interval", "answer_"), [("F4", "fourth above", "Bb4"), ("F4", "fifth below", "Bb3")])
def test_a_fourth_or_fifth_of_a_chromatic_note_stays_perfect(note: str, interval: str, answer_: str) -> None:
    assert answers(note, interval) == sounds(answer_)


def test_a_pedal_note_inside_the_line_stays_what_it_is() -> None:
    def moment(number: int, note: Note, *, mute: bool) -> Moment:
        return Moment(Fraction(number, 8), (note,), mute=mute)

    low, high = Note(6, 0), Note(5, 7)
    line = tab_part(
        tuple(moment(number, high if number % 4 == 3 else low, mute=number % 4 != 3) for number in range(8))
    )
    found = realise(riff_of(line, harmony("third above"))).part("guitar 2")
    assert midis(found) == [40, 40, 40, 55, 40, 40, 40, 55]
    assert midis(realise(riff_of(line, harmony("octave above"))).part("guitar 2"))[0] == 52
    unmuted = tab_part(tuple(replace(one, mute=False) for one in line.bars[0]))
    assert midis(realise(riff_of(unmuted, harmony("third above"))).part("guitar 2"))[0] == 43


def test_a_clash_is_looked_for_while_a_note_lasts() -> None:
    line = line_part("E4", each=Fraction(1, 2))
    late = tab_part((Moment(Fraction(1, 2), (Note(2, 7),)),), name="bass")  # F#4, half a bar after
    riff = riff_of(line, late, harmony("third above", avoid=("bass",)))
    (change,) = realise_told(riff).changes
    assert (str(change[1].asked), change[1].why) == ("G4", "clash")


def test_taps_stay_on_their_string_and_fall_on_no_one_pitch() -> None:
    tapped = eighths(
        Note(1, 17, Attack.TAP), Note(1, 12, Attack.PULL), Note(1, 8, Attack.PULL), Note(1, 12, Attack.HAMMER)
    )
    line = tab_part(tapped, tapped)
    third = realise(riff_of(line, harmony("third above"))).part("guitar 2")
    assert isinstance(third, TabPart)
    notes = [note for bar in third.bars for moment in bar for note in moment.notes]
    assert len({note.string for note in notes}) == 1
    assert [note.attack for note in notes] == [note.attack for bar in line.bars for m in bar for note in m.notes]
    pedal = realise(riff_of(line, HarmonyPart("guitar 2", "guitar 1", PedalNote(Pitch.parse("E4"))))).part("guitar 2")
    assert isinstance(pedal, TabPart)
    assert not any(note.attack is Attack.TAP for bar in pedal.bars[1:] for m in bar for note in m.notes)
