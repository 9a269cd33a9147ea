"""Pitch, intervals and keys against the theory every musician knows, worked out another way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.interval import Distance, Interval
from trainer.music.key import MODES, Key
from trainer.music.pitch import Name, Pitch

names = st.builds(Name, st.integers(0, 6), st.integers(-1, 1))
pitches = st.builds(Pitch, names, st.integers(0, 8))
seven_note_modes = [mode for mode in MODES if len(MODES[mode]) == 7]


@pytest.mark.parametrize(("text", "midi"), [("E2", 40), ("C4", 60), ("A4", 69), ("B#3", 60), ("Cb4", 59), ("E4", 64)])
def test_pitches_have_the_numbers_midi_gives_them(text: str, midi: int) -> None:
    assert Pitch.parse(text).midi == midi
    assert str(Pitch.parse(text)) == text


@pytest.mark.parametrize("text", ["", "H2", "E", "2", "E2 ", "E###2", "e22"])
def test_what_is_no_pitch_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # its text is the pitch itself
        Pitch.parse(text)


# Low, high, name: from any theory primer.
PRIMER = [
    ("E4", "G4", "m3"),
    ("E4", "G#4", "M3"),
    ("C4", "F#4", "A4"),
    ("B3", "F4", "d5"),
    ("E4", "B4", "P5"),
    ("E4", "C5", "m6"),
    ("E4", "E5", "P8"),
    ("E4", "F5", "m9"),
    ("E4", "G5", "m10"),
    ("G4", "E4", "m3"),
    ("B3", "Ab4", "d7"),
    ("Cb4", "C4", "A1"),
]


@pytest.mark.parametrize(("low", "high", "name"), PRIMER)
def test_intervals_are_named_as_in_a_primer(low: str, high: str, name: str) -> None:
    assert str(Interval.between(Pitch.parse(low), Pitch.parse(high))) == name


@given(pitches, pitches)
def test_an_interval_leads_from_one_pitch_to_the_other(low: Pitch, high: Pitch) -> None:
    assert Interval.between(low, high).above(low) == high


@given(pitches, st.sampled_from(["perfect fourth", "perfect fifth", "major third", "minor sixth", "augmented fourth"]))
def test_up_and_down_by_the_same_interval_comes_home(pitch: Pitch, size: str) -> None:
    up, down = Distance.parse(f"{size} above").exact, Distance.parse(f"{size} below").exact
    assert up is not None
    assert down is not None
    assert down.above(up.above(pitch)) == pitch


SIZES = {"minor third": 3, "major third": 4, "perfect fourth": 5, "augmented fourth": 6, "perfect fifth": 7}


@pytest.mark.parametrize(("words", "semitones"), SIZES.items())
def test_exact_distances_have_their_semitones(words: str, semitones: int) -> None:
    above, below = Distance.parse(f"{words} above"), Distance.parse(f"{words} below")
    assert above.exact is not None
    assert below.exact is not None
    assert (above.exact.semitones, below.exact.semitones) == (semitones, -semitones)
    assert str(above) == f"{words} above"


@pytest.mark.parametrize(
    "text", ["major fourth above", "perfect third above", "third", "third abov", "", "minor fifth above"]
)
def test_distances_that_no_one_plays_are_refused(text: str) -> None:
    with pytest.raises(ValueError):  # its text is the distance itself
        Distance.parse(text)


@pytest.mark.parametrize(
    ("key", "notes"),
    [
        ("E aeolian", "E F# G A B C D"),
        ("F# phrygian", "F# G A B C# D E"),
        ("B locrian", "B C D E F G A"),
        ("A harmonic minor", "A B C D E F G#"),
        ("Eb minor", "Eb F Gb Ab Bb Cb Db"),
        ("E phrygian dominant", "E F G# A B C D"),
        ("E minor pentatonic", "E G A B D"),
        ("D dorian", "D E F G A B C"),
    ],
)
def test_scales_are_spelled_by_degree(key: str, notes: str) -> None:
    assert [str(name) for name in Key.parse(key).names] == notes.split()


@given(names, st.sampled_from(seven_note_modes))
def test_every_seven_note_scale_uses_every_letter_once(tonic: Name, mode: str) -> None:
    assert sorted(name.step for name in Key(tonic, mode).names) == list(range(7))


@given(names, st.sampled_from(sorted(MODES)), st.integers(20, 110))
def test_spelling_keeps_the_sound_and_the_scales_own_names(tonic: Name, mode: str, midi: int) -> None:
    key = Key(tonic, mode)
    spelled = key.spell(midi)
    assert spelled.midi == midi
    if midi % 12 in key.semitones:
        assert spelled.name in key.names


# Sharps in the signature, from the circle of fifths.
SIGNATURES = {"E minor": 1, "B minor": 2, "D major": 2, "F major": -1, "C locrian": -5, "E phrygian": 0, "Ab major": -4}


@pytest.mark.parametrize(("key", "sharps"), SIGNATURES.items())
def test_key_signatures_follow_the_circle_of_fifths(key: str, sharps: int) -> None:
    assert Key.parse(key).sharps == sharps


@given(names, st.sampled_from(["ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian"]))
def test_a_signature_counts_the_scales_own_sharps(tonic: Name, mode: str) -> None:
    key = Key(tonic, mode)
    assert key.sharps == sum(name.alter for name in key.names)
