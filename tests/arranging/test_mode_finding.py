from random import Random

import pytest

from tests.arranging.lines import line_part, riff_of
from tests.arranging.made_passages import EVERY_MODE, MODES_MADE, TONICS, by_profiles, passage
from trainer.arranging.mixed_modes import mixed_degrees
from trainer.arranging.mode_finding import WeighedNote, deciding, find_modes
from trainer.arranging.phrases import phrases
from trainer.music.key import MODES, Key
from trainer.music.pitch import Name, Pitch


def heard(text: str) -> list[WeighedNote]:
    return [WeighedNote(Pitch.parse(word).midi) for word in text.split()]


@pytest.mark.parametrize("mode", [mode for mode in MODES if mode not in ("major", "minor")])
def test_a_scale_from_tonic_to_tonic_is_its_mode(mode: str) -> None:
    for tonic in ("C", "E", "F#", "Bb"):
        key = Key.parse(f"{tonic} {mode}")
        root = Pitch(key.tonic, 3).midi
        line = [WeighedNote(root + semitones) for _, semitones in MODES[mode]] + [
            WeighedNote(root + 12),
            WeighedNote(root),
        ]
        best = find_modes(line, tonic=key.tonic)[0]
        assert best.key == key
        assert (best.inside, best.outside) == (1.0, ())
        undeclared = find_modes(line)[0].key
        assert (undeclared.tonic.semitone, undeclared.mode) == (key.tonic.semitone, mode)


def test_notes_outside_and_degrees_never_heard_are_the_evidence() -> None:
    best = find_modes(heard("E4 F#4 G4 B4 A4 B4 C5 B4 E4 A#4 A#4 E4"), tonic=Name.parse("E"))[0]
    assert str(best.key) == "E aeolian"
    assert [(str(name), times) for name, times in best.outside] == [("A#", 2)]
    assert [str(name) for name in best.absent] == ["D"]
    assert best.inside == pytest.approx(10 / 12)


def test_the_notes_that_decide_are_those_the_rival_lacks() -> None:
    notes = heard("E4 F4 G4 A4 B4 C5 D5 E4")
    fits = find_modes(notes, tonic=Name.parse("E"))
    assert str(fits[0].key) == "E phrygian"
    aeolian = next(one for one in deciding(fits, notes) if one.rival.mode == "aeolian")
    assert [str(name) for name in aeolian.names] == ["F"]
    assert not aeolian.tie


def test_modes_that_nothing_tells_apart_are_ties_and_the_declared_one_comes_first() -> None:
    notes = heard("E4 G4 A4 B4 D5 F#4 E4")
    for mode in ("aeolian", "dorian"):
        declared = Key.parse(f"E {mode}")
        fits = find_modes(notes, tonic=Name.parse("E"), declared=declared)
        assert fits[0].key == declared
        assert {one.rival.mode for one in deciding(fits, notes) if one.tie} >= {"aeolian", "dorian"} - {mode}


def test_five_notes_are_pentatonic_and_six_are_not() -> None:
    assert find_modes(heard("E4 G4 A4 B4 D5 E4"), tonic=Name.parse("E"))[0].key.mode == "minor pentatonic"
    assert find_modes(heard("E4 G4 A4 B4 D5 C5 E4"), tonic=Name.parse("E"))[0].key.mode != "minor pentatonic"


def test_the_bass_shows_the_tonic() -> None:
    line = heard("G4 A4 B4 C5 D5 F#4 E4 G4")
    over_e = find_modes(line, bass=heard("E2 E2 E2 B2"))[0].key
    over_g = find_modes(line, bass=heard("G2 G2 G2 D3"))[0].key
    assert (str(over_e.tonic), str(over_g.tonic)) == ("E", "G")


def test_the_last_note_shows_the_tonic() -> None:
    in_c, in_a = heard("G4 E4 F4 D4 B4 A4 C5"), heard("G4 E4 F4 D4 B4 C5 A4")
    assert (str(find_modes(in_c)[0].key), str(find_modes(in_a)[0].key)) == ("C ionian", "A aeolian")


def test_no_notes_fit_nothing() -> None:
    assert find_modes([]) == ()
    assert deciding((), []) == ()


def test_a_line_that_turns_from_aeolian_to_dorian_mixes_on_the_sixth() -> None:
    part = line_part("E4 C5 B4 | E4 C#5 B4 | C5 B4 C#5")
    (mixed,) = mixed_degrees((part,), Key.parse("E aeolian"))
    assert (mixed.degree, str(mixed.own), str(mixed.other), mixed.mode) == (6, "C", "C#", "dorian")
    assert (mixed.own_bars, mixed.other_bars, mixed.mixes) == ((1, 3), (2, 3), True)


def test_a_borrowed_degree_alone_is_no_mixture() -> None:
    (mixed,) = mixed_degrees((line_part("E4 D#5 E4"),), Key.parse("E aeolian"))
    assert (mixed.mode, mixed.mixes) == ("harmonic minor", False)
    assert mixed_degrees((line_part("E4 A#4"),), Key.parse("E aeolian")) == ()


def test_a_phrase_ends_at_a_rest_and_after_a_long_note() -> None:
    rested = line_part("E4 F#4 r r r r G4 A4")
    assert [len(phrase.notes) for phrase in phrases(rested, riff_of(rested))] == [2, 2]
    breath = line_part("E4 F#4 r G4 A4")  # an eighth is a breath, not an end
    assert [len(phrase.notes) for phrase in phrases(breath, riff_of(breath))] == [5 - 1]
    long = line_part("E4 F#4 | G4 A4")  # F#4 sounds for seven eighths
    found = phrases(long, riff_of(long))
    assert [(phrase.first_bar, phrase.last_bar) for phrase in found] == [(1, 1), (2, 2)]


def test_the_mode_of_generated_passages_is_found_or_tied() -> None:
    """A small share of what tests/benchmarks/mode_finding.py measures; the bounds lie far below what it prints."""
    random = Random(7)
    counts = {"mode": 0, "alone": 0, "profiles": 0}
    made = 0
    for mode in MODES_MADE:
        for _ in range(20):
            key = Key(random.choice(TONICS), mode)
            notes = passage(random, key, 32, 0.05)
            fits = find_modes(notes, tonic=key.tonic, count=12)
            counts["mode"] += fits[0].key == key or any(one.tie and one.rival == key for one in deciding(fits, notes))
            counts["alone"] += find_modes(notes, count=1)[0].key == key
            counts["profiles"] += by_profiles(notes, EVERY_MODE, None) == (key.tonic.semitone, mode)
            made += 1
    assert counts["mode"] >= 0.8 * made
    assert counts["alone"] >= 1.3 * counts["profiles"]
