"""Sentences about riffs: each follows from a fact, and each changes when the music does."""

import json
from dataclasses import replace
from fractions import Fraction

from tests.arranging.lines import eighths, harmony, line_part, riff_of, tab_part
from trainer.arranging.explain import explain
from trainer.arranging.plain_data import plain_data
from trainer.arranging.realise import realise
from trainer.arranging.same_pitches import same_pitches
from trainer.arranging.scale import spell
from trainer.arranging.sentences import sentences
from trainer.music.instrument import BASS, instrument
from trainer.music.interval import Distance
from trainer.music.key import Key
from trainer.music.note import Attack, DrumMoment, Hit, Moment, Note
from trainer.music.part import DrumPart, HarmonyException, Part
from trainer.music.riff import Riff

GALLOP = "0 1/8 3/16 1/4 3/8 7/16 1/2 5/8 11/16 3/4"


def told(riff: Riff, about: str) -> list[str]:
    return [one.text for one in sentences(explain(riff), riff) if one.about == about]


def with_harmony(line: Part, interval: str, *changed: tuple[int, int, str]) -> Riff:
    """A riff with its harmony; exceptions as bar, eighth, interval."""
    own = tuple(HarmonyException(bar, Fraction(eighth, 8), Distance.parse(word)) for bar, eighth, word in changed)
    return realise(riff_of(line, harmony(interval, exceptions=own)))


def test_intervals_are_summed_up_with_their_exceptions() -> None:
    line = line_part("E4 F#4 G4 A4 B4 C5 D5 E5")
    plain = with_harmony(line, "sixth below")
    assert told(plain, "roles") == ["Bar 1: guitar 1 has the tune, guitar 2 plays sixths below guitar 1."]
    assert told(plain, "intervals") == ["The sixths are major, but minor three times, in bar 1."]
    ends = with_harmony(line, "sixth below", (1, 6, "fourth below"), (1, 7, "fourth below"))
    assert told(ends, "intervals")[0] == "guitar 2 moves in sixths below guitar 1, the last two notes fourths."
    begins = with_harmony(line, "third above", (1, 0, "octave above"))
    assert told(begins, "intervals")[0] == "guitar 2 moves in thirds above guitar 1, the first note an octave."
    inside = with_harmony(line, "third above", (1, 3, "fifth above"))
    assert told(inside, "intervals")[0] == "guitar 2 moves in thirds above guitar 1, one note from bar 1, 2 & a fifth."


def test_many_intervals_are_counted() -> None:
    one, other = line_part("E4 E4 E4 E4"), line_part("G4 A4 B4 C5", "guitar 2")
    assert told(riff_of(one, other), "intervals") == [
        "guitar 2 moves in thirds (1), fourths (1), fifths (1) and sixths (1) against guitar 1."
    ]


def test_motion_is_told() -> None:
    line = line_part("E4 F#4 G4 A4")
    assert told(with_harmony(line, "third above"), "motion") == [
        "guitar 1 and guitar 2 move in parallel motion throughout."
    ]
    one, other = line_part("E4 F#4 G4"), line_part("B4 A4 A4", "guitar 2")
    assert told(riff_of(one, other), "motion") == [
        "The motion of guitar 1 and guitar 2: contrary once and oblique once."
    ]


def test_crossing_and_clashes_are_told_with_their_places() -> None:
    one, other = line_part("E4 F#4 A4 | E4"), line_part("G4 A4 G4 | F4", "guitar 2")
    riff = riff_of(one, other)
    assert told(riff, "crossing") == ["guitar 1 and guitar 2 cross in bar 1."]
    assert told(riff, "clashes") == ["guitar 1 and guitar 2 clash: E4 against F4 in bar 2, 1."]
    assert told(riff_of(one, line_part("G4 A4 B4 | G4", "guitar 2")), "clashes") == []


def test_the_mode_is_told_with_what_decides_it() -> None:
    riff = riff_of(line_part("E4 F4 G4 A4 B4 C5 D5 E4"), key="E aeolian")
    found = told(riff, "mode")
    assert found[0].startswith("The riff fits E phrygian; ")
    assert "The file says E aeolian." in found
    agreeing = told(riff_of(line_part("E4 F#4 G4 A4 B4 C5 D5 E4")), "mode")
    assert agreeing[0] == "The riff fits E aeolian; C and F# decide against dorian and phrygian."
    assert not any(text.startswith("The file says") for text in agreeing)


def test_major_and_minor_are_ionian_and_aeolian() -> None:
    found = told(riff_of(line_part("E4 F#4 G4 A4 B4 C5 D5 E4"), key="E minor"), "mode")
    assert not any(text.startswith("The file says") for text in found)


def test_what_is_never_heard_leaves_modes_open() -> None:
    found = told(riff_of(line_part("E4 F#4 G4 A4 B4 D5 E4")), "mode")
    assert "C is never heard, so E dorian would do as well." in found


def test_notes_outside_are_told() -> None:
    assert "Outside E aeolian: A# (1x)." in told(riff_of(line_part("E4 F#4 G4 A#4 B4 C5 D5 E4")), "mode")


def test_a_mixture_is_told_on_its_degree() -> None:
    riff = riff_of(line_part("E4 F#4 C5 B4 A4 G4 | E4 D4 C#5 B4 F#4 E4"))
    found = told(riff, "mode")
    assert "The riff mixes aeolian and dorian: the sixth is C in bar 1, C# in bar 2." in found
    assert len(found) == len(set(found)) == 2
    assert not any(text.startswith("Outside") for text in found)
    borrowed = told(riff_of(line_part("E4 F#4 G4 C5 D#4 E4")), "mode")
    assert "The file says E aeolian." in borrowed
    assert not any("takes its" in text for text in borrowed)  # harmonic minor holds every note: said once


def test_a_declared_harmonic_minor_is_among_its_ties_and_comes_first() -> None:
    found = told(riff_of(line_part("E4 F#4 G4 A4 B4 C5 B4 E4"), key="E harmonic minor"), "mode")
    assert found[0].startswith("The riff fits E harmonic minor")
    assert "D# is never heard, so E aeolian would do as well." in found


def test_a_chromatic_line_is_called_one_and_one_note_tells_no_mode() -> None:
    drill = line_part("A2 A#2 B2 C3 D3 D#3 E3 F3 | G3 G#3 A3 A#3 C4 C#4 D4 D#4")
    assert told(riff_of(drill), "mode") == ["The riff is chromatic: no one mode holds it."]
    assert told(riff_of(line_part("E2 E2 E2")), "mode") == ["The riff has too few different notes to tell a mode."]


def test_doubt_about_the_home_note_is_told() -> None:
    line = line_part("D4 F4 A4 D4 C4 D4 F4 D4 | D4 E4 F4 A4 G4 B4 A4 D4")
    found = told(riff_of(line, line_part("D2", "bass", instrument(BASS)), key="A aeolian"), "mode")
    assert any(text.startswith("Not sure about the home note: by themselves the notes point to D ") for text in found)
    home = told(riff_of(line, line_part("D2", "bass", instrument(BASS)), key="D dorian"), "mode")
    assert not any(text.startswith("Not sure") for text in home)


def test_accidentals_are_spelt_by_the_key() -> None:
    assert str(spell(Key.parse("D aeolian"), 66)) == "F#4"
    assert str(spell(Key.parse("G aeolian"), 59)) == "B3"


def test_a_bend_counts_at_the_pitch_it_reaches() -> None:
    bent = tab_part(eighths(Note(2, 5), Note(2, 7), Note(2, 8), Note(2, 10), Note(1, 7), Note(1, 8, bend=10)))
    modes = explain(riff_of(bent, key="E aeolian")).modes
    assert modes is not None
    assert [str(name) for name in modes.fits[0].absent] == ["C"]  # it begins at C, and is heard at D


def test_nothing_is_said_of_a_part_that_was_said_of_the_riff() -> None:
    found = told(with_harmony(line_part("E4 F#4 G4 A4 B4 C5 D5 E5"), "third above"), "mode")
    assert len(found) == len({text.split(" ", 2)[-1] for text in found})
    assert not any(text.startswith("guitar") for text in found)


def test_the_kick_and_the_rhythm_in_letters_are_told() -> None:
    gallop = tuple(Moment(Fraction(at), (Note(6, 0),)) for at in GALLOP.split())
    kicks = tuple(DrumMoment(moment.offset, (Hit("kick"),)) for moment in gallop)
    riff = riff_of(tab_part(gallop), DrumPart("drums", (kicks,)))
    assert told(riff, "letters") == ["guitar 1, beat by beat: GGGq (G gallop, q one note on the beat)."]
    assert told(riff, "kick") == ["The kick follows guitar 1 note for note."]
    alone = riff_of(tab_part(gallop), DrumPart("drums", (kicks[:2],)))
    assert told(alone, "kick") == ["The kick goes its own way: it meets two of 10 notes of guitar 1."]


def test_figures_are_told_with_what_to_learn_first() -> None:
    riff = riff_of(line_part("E4 F#4 | E4 F#4 | G4 A4 | E4 G4 A4"))
    assert told(riff, "figures") == ["guitar 1: four bars are two figures (A A At B; t is transposed). Learn A first."]


def test_the_tune_is_handed_over() -> None:
    one, other = line_part("E4 F#4 G4 A4 | r"), line_part("r | B4 C5 D5 E5", "guitar 2")
    assert "guitar 1 hands the tune to guitar 2 in bar 2." in told(riff_of(one, other), "roles")


def test_a_long_note_leans_and_resolves() -> None:
    line = tab_part((Moment(Fraction(0), (Note(1, 5),)), Moment(Fraction(1, 2), (Note(1, 3),))))
    riff = riff_of(line, line_part("E2", "bass", instrument(BASS)))
    assert told(riff, "leaning") == ["Where guitar 1 leans: A4 is 4 over E in bar 1, 1 and resolves to b3."]


def test_a_phrase_in_another_mode_is_told() -> None:
    phrase_1 = "E4 F#4 G4 A4 B4 C5 D5 E4 | E4"
    riff = riff_of(line_part(f"{phrase_1} | {phrase_1} | E4 F#4 G4 A4 B4 C#5 D5 E4"))
    assert "The phrase of guitar 1 in bar 5 by itself fits E dorian." in told(riff, "mode")


def test_implied_chords_are_told_bar_by_bar() -> None:
    guitar = line_part("E3+B3 E3+B3 G3+D4 G3+D4 | A2+C4+E4 A2+C4+E4")
    low = line_part("E1 E1 G1 G1 | A1 A1", "bass", instrument(BASS))
    assert told(riff_of(guitar, low), "chords") == [
        "Chords, as played: E5 G5 | Am.",
        "Their degrees in E aeolian: I5 III5 iv.",
    ]


def test_the_rhythm_is_told_in_shares() -> None:
    gallop = tuple(Moment(Fraction(at), (Note(6, 0),)) for at in GALLOP.split())
    assert told(riff_of(tab_part(gallop)), "rhythm") == ["guitar 1 is 75 % gallop and 25 % straight."]
    assert told(riff_of(tab_part(gallop[:9])), "rhythm") == ["guitar 1 is gallop throughout."]


def test_accents_are_told() -> None:
    def accented(*numbers: int) -> Riff:
        notes = [Moment(Fraction(n, 16), (Note(6, 0),), accent=">" if n in numbers else "") for n in range(16)]
        return riff_of(tab_part(tuple(notes)))

    assert told(accented(0), "accents") == ["guitar 1 accents the first count of the bar and nothing else."]
    assert told(accented(0, 3, 6, 9, 12, 15), "accents") == [
        "guitar 1 accents every 3/16 of a whole note, against the meter."
    ]
    assert told(accented(0, 4, 6), "accents") == [
        "guitar 1 has 3 accents: 1 on the first count, 1 on other beats and 1 on off-beats."
    ]
    assert told(accented(), "accents") == []


def test_how_rhythms_lock_is_told() -> None:
    one = line_part("E4 F#4 G4 A4")
    assert told(riff_of(one, line_part("E4 F#4 G4 A4", "guitar 2")), "lock") == [
        "guitar 1 and guitar 2 start every note together."
    ]
    assert told(riff_of(one, line_part("E4 r G4 r", "guitar 2")), "lock") == [
        "guitar 1 strikes with every note of guitar 2 and two times more."
    ]
    assert told(riff_of(line_part("E4 r G4"), line_part("r E4 r A4", "guitar 2")), "lock") == [
        "guitar 1 and guitar 2 never start a note together: they fill each other's gaps."
    ]


def test_the_range_is_told() -> None:
    part = tab_part(eighths(Note(6, 0), Note(5, 7), Note(4, 9)))
    assert told(riff_of(part), "range") == ["guitar 1 covers E2 to B3, on strings 4 to 6, frets 7 to 9."]
    assert told(riff_of(tab_part(eighths(Note(6, 0)))), "range") == [
        "guitar 1 covers E2 to E2, on string 6, open strings only."
    ]


def test_the_same_pitches_elsewhere_are_compared() -> None:
    one = tab_part(eighths(*(Note(2, fret) for fret in (5, 7, 8, 10))))
    muted = tuple(replace(moment, mute=True) for moment in eighths(*(Note(3, fret + 4) for fret in (5, 7, 8, 10))))
    other = tab_part(muted, name="guitar 2")
    riff = riff_of(one, other)
    assert told(riff, "same pitches") == [
        "guitar 2 plays the pitches of guitar 1 elsewhere on 4 of 4 onsets, on average one strings thicker and "
        "four frets higher; only guitar 2 has palm mutes (4)."
    ]
    assert told(riff, "intervals") == []
    hammered = tab_part(
        eighths(Note(2, 5), Note(2, 7, Attack.HAMMER), Note(2, 8), Note(2, 10, Attack.HAMMER)), name="guitar 2"
    )
    assert told(riff_of(one, hammered), "same pitches") == [
        "guitar 2 plays the pitches of guitar 1 at the same places; only guitar 2 has hammer-ons (2)."
    ]
    assert same_pitches(one, tab_part(eighths(*(Note(2, 3) for _ in range(4))))) is None


def test_a_bass_is_not_measured_in_intervals_unless_it_moves_in_one() -> None:
    lead = line_part("B4 C5 D5 E5")
    pedal = line_part("E1 E1 E1 E1", "bass", instrument(BASS))
    assert told(riff_of(lead, pedal), "intervals") == []
    octaves = line_part("B1 C2 D2 E2", "bass", instrument(BASS))
    assert told(riff_of(lead, octaves), "roles") == [
        "Bar 1: guitar 1 has the tune, bass plays an octave below guitar 1."
    ]


def test_drums_and_silence_have_nothing_to_tell() -> None:
    drums = DrumPart("drums", ((DrumMoment(Fraction(0), (Hit("kick"),)),),))
    found = explain(riff_of(drums))
    assert (found.modes, found.parts, found.pairs, found.chords) == (None, (), (), ())
    assert sentences(found, riff_of(drums)) == ()
    silent = tab_part((Moment(Fraction(0), rest=True),))
    assert explain(riff_of(silent)).parts[0].compass is None


def test_facts_are_plain_data() -> None:
    riff = with_harmony(line_part("E4 F#4 G4 A4 | B4 C#5 D5 E5"), "third above")
    data = json.loads(json.dumps(plain_data(explain(riff))))
    assert data["key"] == "E aeolian"
    assert data["pairs"][0]["line"][0]["one"] == "E4"
    assert data["pairs"][0]["line"][1]["offset"] == "1/8"
    assert data["mixed"][0]["mode"] == "dorian"
    assert data["pairs"][0]["motion"] == [["parallel", 7]]
