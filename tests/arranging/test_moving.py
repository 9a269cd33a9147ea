from dataclasses import replace
from fractions import Fraction

import pytest

from tests.arranging.lines import GUITAR, eighths, harmony, line_part, midis, riff_of, sounds, tab_part
from tests.exercises.bundled import NAMES, load
from trainer.arranging.moving import MOVED_NOTE, TUNINGS, Move, move, move_chord, plain_spelling
from trainer.arranging.realise import realise, realise_exercise
from trainer.arranging.scale import spell
from trainer.music.exercise import Exercise
from trainer.music.instrument import BASS, instrument
from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.note import Attack, DrumMoment, Hit, Moment, Note, Touch
from trainer.music.part import DrumPart, HarmonyPart, Part, PedalNote, TabPart
from trainer.music.pitch import Pitch
from trainer.music.problem import ProblemsError
from trainer.notation.read import read
from trainer.notation.write import write


def exercise_of(*parts: Part, key: str = "E aeolian") -> Exercise:
    riff = riff_of(*parts, key=key)
    return Exercise("march", "March", riff.key, riff.tempo, (riff,))


def moved(line: str, key: str, to: str) -> list[int]:
    found = move(exercise_of(line_part(line), key=key), Move(key=Key.parse(to)))
    return midis(found.riffs[0].parts[0])


def test_another_tonic_moves_every_note_by_the_nearest_way() -> None:
    assert moved("E4 F#4 G4 A4", "E aeolian", "F# aeolian") == sounds("F#4 G#4 A4 B4")
    assert moved("E4 F#4 G4 A4", "E aeolian", "D aeolian") == sounds("D4 E4 F4 G4")
    assert moved("E4 D5", "E aeolian", "Bb aeolian") == sounds("A#4 G#5")  # a tritone goes up


def test_what_leaves_the_neck_goes_the_other_way_round() -> None:
    assert moved("E2 G2", "E aeolian", "D aeolian") == sounds("D3 F3")


def test_every_part_goes_the_same_way() -> None:
    low, high = line_part("E2 G2"), line_part("B4 D5", "guitar 2")
    found = move(exercise_of(low, high), Move(key=Key.parse("D aeolian"))).riffs[0]
    assert midis(found.parts[0]) == sounds("D3 F3")
    assert midis(found.parts[1]) == sounds("A5 C6")


def test_what_fits_neither_way_is_told_note_by_note() -> None:
    part = line_part("E2 G2 | E6 G2")
    with pytest.raises(ProblemsError, match="guitar 1 of 'Test riff', bar 1: D2 is nowhere on this neck"):
        move(exercise_of(part), Move(key=Key.parse("D aeolian")), "march.md")


def test_another_mode_moves_degree_by_degree() -> None:
    assert moved("E4 F#4 G4 A4 B4 C5 D5", "E aeolian", "E ionian") == sounds("E4 F#4 G#4 A4 B4 C#5 D#5")
    assert moved("E4 F#4 G4 A4 B4 C5 D5", "E aeolian", "E phrygian") == sounds("E4 F4 G4 A4 B4 C5 D5")
    assert moved("E4 G4 C5", "E aeolian", "A dorian") == sounds("A4 C5 F#5")


def test_a_note_outside_the_key_keeps_its_alteration() -> None:
    assert moved("C#5 D#5 E5", "E aeolian", "E ionian") == sounds("C#5 D#5 E5")  # its own sixth and seventh
    assert moved("C5 C#5", "A aeolian", "A dorian") == sounds("C5 C#5")
    assert moved("F4 F#4 G4", "A aeolian", "F# dorian") == sounds("D#4 D#4 E4")
    assert moved("A#4 B4", "E aeolian", "E phrygian") == sounds("A#4 B4")


def test_bends_reach_the_moved_goal() -> None:
    part = tab_part(eighths(Note(2, 8, bend=10, release=8)))  # G4 to A4: three to four of E aeolian
    found = move(exercise_of(part), Move(key=Key.parse("E ionian"))).riffs[0].parts[0]
    assert isinstance(found, TabPart)
    note = found.bars[0][0].notes[0]
    assert note.bend is not None
    assert (midis(found), note.bend - note.fret, note.release) == (sounds("G#4"), 1, note.fret)


def test_a_riff_in_its_own_key_moves_by_the_same_interval() -> None:
    exercise = exercise_of(line_part("E4 G4"))
    own = replace(exercise.riffs[0], name="Other", key=Key.parse("B locrian"), parts=(line_part("B4 C5"),))
    found = move(replace(exercise, riffs=(exercise.riffs[0], own)), Move(key=Key.parse("F# dorian")))
    assert str(found.riffs[1].key) == "C# locrian"
    assert midis(found.riffs[1].parts[0]) == sounds("C#5 D5")


def test_another_tuning_keeps_the_pitches() -> None:
    part = line_part("E2 A2 D3 E3")
    drop = ("D2", "A2", "D3", "G3", "B3", "E4")
    found = move(exercise_of(part), Move(tuning=drop))
    other = found.riffs[0].parts[0]
    assert isinstance(other, TabPart)
    assert midis(other) == midis(part)
    assert other.instrument == instrument(drop)
    assert found.tuning == drop


def test_a_capo_keeps_the_pitches_and_shifts_the_frets() -> None:
    part = line_part("A4 B4 C5 D5")
    found = move(exercise_of(part), Move(capo=3))
    other = found.riffs[0].parts[0]
    assert isinstance(other, TabPart)
    assert (midis(other), other.instrument.capo) == (midis(part), 3)
    with pytest.raises(ProblemsError, match="E2 is nowhere"):
        move(exercise_of(line_part("E2")), Move(capo=3))


def test_seven_strings_and_back() -> None:
    part = line_part("E2 A2 D3 E3")
    seven = move(exercise_of(part), Move(tuning=TUNINGS[7]))
    back = move(seven, Move(tuning=TUNINGS[6]))
    assert isinstance(seven.riffs[0].parts[0], TabPart)
    assert seven.riffs[0].parts[0].instrument.strings == 7
    assert midis(back.riffs[0].parts[0]) == midis(part)


def test_the_bass_keeps_its_neck_when_the_guitars_change_theirs() -> None:
    bass = line_part("E1 G1", "bass", instrument(BASS))
    found = move(exercise_of(line_part("E3 G3"), bass), Move(tuning=TUNINGS[7])).riffs[0]
    assert found.parts[1] == bass


def test_one_part_alone_can_change_its_neck() -> None:
    exercise = exercise_of(line_part("E3 G3"), line_part("E3 G3", "guitar 2"))
    found = move(exercise, Move(tuning=TUNINGS[7], parts=("guitar 2",)))
    assert found.riffs[0].parts[0] == exercise.riffs[0].parts[0]
    assert found.settings("guitar 2").tuning == TUNINGS[7]
    assert found.tuning == exercise.tuning


def test_harmonies_stay_computed_and_follow_the_moved_line() -> None:
    line = line_part("E4 F#4 G4")
    pedal = HarmonyPart(
        "guitar 3", "guitar 1", PedalNote(Pitch.parse("E3")), within=(Pitch.parse("E2"), Pitch.parse("E4"))
    )
    found = move(exercise_of(line, harmony("third above"), pedal), Move(key=Key.parse("F# aeolian"))).riffs[0]
    assert len(found.harmonies) == 2
    played = realise(found)
    assert midis(played.part("guitar 2")) == sounds("A4 B4 C#5")
    assert midis(played.part("guitar 3")) == sounds("F#3 F#3 F#3")


def test_drums_stay() -> None:
    drums = DrumPart("drums", ((DrumMoment(Fraction(0), (Hit("kick"),)),),))
    assert move(exercise_of(line_part("E4"), drums), Move(key=Key.parse("G dorian"))).riffs[0].parts[1] == drums


@pytest.mark.parametrize(
    ("name", "to", "expected"),
    [
        ("Em", "F# aeolian", "F#m"),
        ("G5", "F# aeolian", "A5"),
        ("D/F#", "F# aeolian", "E/G#"),
        ("C5", "F# dorian", "D#5"),
        ("Em", "F# dorian", ""),
        ("say", "F# dorian", "say"),
        ("", "F# dorian", ""),
    ],
)
def test_chord_names_move_by_degree(name: str, to: str, expected: str) -> None:
    assert move_chord(name, Key.parse("E aeolian"), Key.parse(to), Interval(1, 2)) == expected


def test_a_moved_exercise_is_a_new_one_that_can_be_written_and_read() -> None:
    exercise = exercise_of(line_part("E4 F#4 r A4 | E3+B3 G4 F#4 E4"), harmony("third above"))
    exercise = replace(exercise, riffs=(replace(exercise.riffs[0], parts=(exercise.riffs[0].parts[0],)),))
    found = move(exercise, Move(key=Key.parse("F# dorian"), tuning=TUNINGS[7], capo=2))
    assert found.id == "march-in-f-sharp-dorian-tuned-b1-e2-a2-d3-g3-b3-e4-capo-2"
    assert found.title == "March (in F# dorian, tuned B1 E2 A2 D3 G3 B3 E4, capo 2)"
    assert read(write(found), "new.md") == found


def test_techniques_and_marks_survive() -> None:
    moment = Moment(Fraction(0), (Note(2, 8, vibrato=True, short=True),), mute=True, ring=True, accent=">", pick="u")
    found = move(exercise_of(tab_part((moment,))), Move(key=Key.parse("F# aeolian"))).riffs[0].parts[0]
    assert isinstance(found, TabPart)
    other = found.bars[0][0]
    assert (other.mute, other.ring, other.accent, other.pick) == (True, True, ">", "u")
    assert (other.notes[0].vibrato, other.notes[0].short) == (True, True)
    assert found.instrument == GUITAR


def test_a_key_that_nobody_writes_takes_its_other_name() -> None:
    exercise = exercise_of(line_part("C#4 E4 G#4"), key="C# aeolian")
    other = replace(exercise.riffs[0], name="Other", key=Key.parse("F# phrygian"), parts=(line_part("F#4 G4 A4"),))
    found = move(replace(exercise, riffs=(exercise.riffs[0], other)), Move(key=Key.parse("D# aeolian")))
    assert str(found.riffs[1].key) == "G# phrygian"
    further = move(replace(exercise, riffs=(exercise.riffs[0], other)), Move(key=Key.parse("G# locrian")))
    assert abs(further.riffs[1].key.sharps) <= 7
    assert midis(further.riffs[1].parts[0]) == [midi - 5 for midi in sounds("F#4 G4 A4")]


SLURS = {Attack.HAMMER, Attack.PULL, Attack.SLIDE_UP, Attack.SLIDE_DOWN, Attack.TAP}


def attacks(exercise: Exercise) -> int:
    return sum(note.attack in SLURS for note in all_notes(exercise))


def all_notes(exercise: Exercise) -> list[Note]:
    return [n for riff in exercise.riffs for part in riff.tabs for bar in part.bars for m in bar for n in m.notes]


@pytest.mark.parametrize("name", NAMES)
def test_every_bundled_exercise_plays_elsewhere_with_its_slurs_and_open_strings(name: str) -> None:
    exercise = load(name).exercise
    up = plain_spelling(Key(spell(exercise.key, 61 + exercise.key.tonic.semitone).name, exercise.key.mode))
    seven = exercise.tuning == TUNINGS[6]
    for asked in (Move(key=up), Move(down=2), Move(tuning=TUNINGS[7]) if seven else Move(down=1)):
        found = read(write(move(exercise, asked)))
        realise_exercise(found)
        assert attacks(found) == attacks(exercise), asked
        if asked.key is None:
            assert [note.fret for note in all_notes(found)] == [note.fret for note in all_notes(exercise)]


def test_the_whole_band_tunes_down_and_keeps_its_frets() -> None:
    exercise = load("iron-causeway").exercise
    found = read(write(move(exercise, Move(down=1))))
    assert str(found.key) == "Eb aeolian"
    assert found.tuning == ("Eb2", "Ab2", "Db3", "Gb3", "Bb3", "Eb4")
    assert found.settings("bass").tuning == ("Eb1", "Ab1", "Db2", "Gb2")
    assert found.title.endswith("tuned down half a step)")
    old, new = exercise.riffs[0].tabs[0], found.riffs[0].tabs[0]
    assert [midi - 1 for midi in midis(old)] == midis(new)


def moved_part(part: TabPart, asked: Move, key: str = "E aeolian") -> TabPart:
    riff = riff_of(part, key=key)
    exercise = Exercise("own", "Own", riff.key, riff.tempo, (riff,))
    found = move(exercise, asked).riffs[0].parts[0]
    assert isinstance(found, TabPart)
    return found


DROP_D = ("D2", "A2", "D3", "G3", "B3", "E4")


def test_dead_notes_keep_their_string() -> None:
    part = tab_part(eighths(Note(5, 0), Note(4, 0, touch=Touch.DEAD), Note(5, 3)))
    found = moved_part(part, Move(key=Key.parse("D aeolian")))
    assert found.bars[0][1].notes[0].string == 4


def test_a_slide_and_a_pull_off_stay_on_their_string() -> None:
    slurred = eighths(Note(2, 5), Note(2, 10, Attack.SLIDE_UP), Note(2, 8, Attack.PULL), Note(2, 5, Attack.PULL))
    for tonic in ["F", "G", "A", "B", "C", "D"]:
        found = moved_part(tab_part(slurred), Move(key=Key.parse(f"{tonic} aeolian")))
        notes = [moment.notes[0] for moment in found.bars[0]]
        assert len({note.string for note in notes}) == 1
        assert [note.attack for note in notes] == [moment.notes[0].attack for moment in slurred]


def test_a_slur_whose_notes_become_one_is_picked() -> None:
    part = tab_part(eighths(Note(2, 5), Note(2, 6, Attack.HAMMER)))  # E F in E phrygian, E F# in E aeolian
    up = moved_part(part, Move(key=Key.parse("E aeolian")), key="E phrygian")
    assert [moment.notes[0].attack for moment in up.bars[0]] == [Attack.PICK, Attack.HAMMER]


def test_a_harmonic_stays_a_harmonic_on_another_tuning() -> None:
    part = tab_part(eighths(Note(6, 12, touch=Touch.HARMONIC)))
    found = moved_part(part, Move(tuning=DROP_D)).bars[0][0].notes[0]
    assert (found.string, found.fret, found.touch) == (6, 12, Touch.HARMONIC)


def test_frets_may_be_kept_on_another_tuning() -> None:
    part = tab_part(eighths(Note(6, 0), Note(6, 3)))
    found = moved_part(part, Move(tuning=DROP_D, keep_frets=True))
    assert [moment.notes[0].fret for moment in found.bars[0]] == [0, 3]
    assert midis(found) == [38, 41]


def test_a_harmony_loses_frets_that_it_no_longer_fits_into() -> None:
    riff = riff_of(line_part("E4 G4 B4 E5"), harmony("third above", frets=(12, 15)))
    exercise = Exercise("own", "Own", riff.key, riff.tempo, (riff,))
    found = move(exercise, Move(key=Key.parse("B aeolian")))
    assert found.riffs[0].harmonies[0].frets is None
    realise_exercise(found)


def test_titles_do_not_pile_up_and_words_about_frets_are_marked() -> None:
    riff = replace(riff_of(line_part("E4 G4")), prose="Play it at the fifth fret.")
    exercise = Exercise("own", "Own", riff.key, riff.tempo, (riff,), prose="A calm tune.")
    once = move(exercise, Move(key=Key.parse("F aeolian")))
    twice = move(once, Move(key=Key.parse("G aeolian")))
    assert (twice.title, twice.id) == ("Own (in G aeolian)", "own-in-g-aeolian")
    assert twice.riffs[0].prose.count(MOVED_NOTE) == 1
    assert twice.prose == "A calm tune."
