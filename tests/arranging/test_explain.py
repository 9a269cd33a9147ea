"""Sentences about riffs: each follows from a fact, and each changes when the music does."""

import json
from dataclasses import replace
from fractions import Fraction

from tests.arranging.lines import eighths, harmony, line_part, riff_of, tab_part
from trainer.arranging.explain import explain
from trainer.arranging.plain_data import plain_data
from trainer.arranging.realise import realise
from trainer.arranging.same_pitches import same_pitches
from trainer.arranging.sentences import sentences
from trainer.music.instrument import BASS, instrument
from trainer.music.interval import Distance
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
    assert told(with_harmony(line, "sixth below"), "intervals") == ["guitar 2 moves in sixths below guitar 1."]
    ends = with_harmony(line, "sixth below", (1, 6, "fourth below"), (1, 7, "fourth below"))
    assert told(ends, "intervals") == ["guitar 2 moves in sixths below guitar 1, the last two notes fourths."]
    begins = with_harmony(line, "third above", (1, 0, "octave above"))
    assert told(begins, "intervals") == ["guitar 2 moves in thirds above guitar 1, the first note an octave."]
    inside = with_harmony(line, "third above", (1, 3, "fifth above"))
    assert told(inside, "intervals") == ["guitar 2 moves in thirds above guitar 1, one note from bar 1, 2 & a fifth."]


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
    assert told(riff, "clashes") == ["guitar 1 and guitar 2 grate: E4 against F4 in bar 2, 1."]
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
    assert "guitar 1 mixes aeolian and dorian: the sixth is C in bar 1, C# in bar 2." in found
    assert not any(text.startswith("Outside") for text in found)
    borrowed = told(riff_of(line_part("E4 F#4 G4 D#4 E4")), "mode")
    assert "guitar 1 takes its seventh from harmonic minor: D# in bar 1, never D." in borrowed


def test_a_phrase_in_another_mode_is_told() -> None:
    phrase_1 = "E4 F#4 G4 A4 B4 C5 D5 E4 | E4"
    riff = riff_of(line_part(f"{phrase_1} | {phrase_1} | E4 F#4 G4 A4 B4 C#5 D5 E4"))
    assert "The phrase of guitar 1 in bar 5 by itself fits E dorian." in told(riff, "mode")


def test_implied_chords_are_told_bar_by_bar() -> None:
    guitar = line_part("E3+B3 E3+B3 G3+D4 G3+D4 | A2+C4+E4 A2+C4+E4")
    low = line_part("E1 E1 G1 G1 | A1 A1", "bass", instrument(BASS))
    assert told(riff_of(guitar, low), "chords") == ["Bass and guitars imply: E5 G5 | Am."]


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
    assert told(riff_of(lead, octaves), "intervals") == ["bass moves in octaves below guitar 1."]


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
