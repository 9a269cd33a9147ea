"""Harmony lines against tables that are worked out here from whole and half steps, or written by hand."""

import pytest

from trainer.arranging.harmony_pitch import answer
from trainer.arranging.scale import scale_of, spell
from trainer.music.interval import Distance, Interval
from trainer.music.key import MODES, Key
from trainer.music.pitch import Pitch

STEPS = {
    "ionian": "WWHWWWH",
    "major": "WWHWWWH",
    "dorian": "WHWWWHW",
    "phrygian": "HWWWHWW",
    "lydian": "WWWHWWH",
    "mixolydian": "WWHWWHW",
    "aeolian": "WHWWHWW",
    "minor": "WHWWHWW",
    "locrian": "HWWHWWW",
    "harmonic minor": "WHWWHTH",
    "melodic minor": "WHWWWWH",
    "phrygian dominant": "HTHWHWW",
}
"""H a half step, W a whole one, T three half steps."""
SIZES = {"H": 1, "W": 2, "T": 3}
SEVEN = sorted(STEPS)
INTERVALS = {"second": 1, "third": 2, "fourth": 3, "fifth": 4, "sixth": 5, "seventh": 6, "octave": 7, "tenth": 9}
TONICS = ("C", "E", "F#", "Bb", "A", "D", "G", "B", "Eb")


def ladder(tonic: int, mode: str, octaves: int = 5) -> list[int]:
    """MIDI keys of a scale upward."""
    keys = [tonic]
    for step in STEPS[mode] * octaves:
        keys.append(keys[-1] + SIZES[step])
    return keys


def test_every_seven_note_mode_has_its_table() -> None:
    assert set(STEPS) == {mode for mode, degrees in MODES.items() if len(degrees) == 7}


@pytest.mark.parametrize("mode", SEVEN)
@pytest.mark.parametrize("name", INTERVALS)
def test_every_interval_in_every_mode_counts_up_the_scale(mode: str, name: str) -> None:
    for tonic in TONICS:
        key = Key.parse(f"{tonic} {mode}")
        keys = ladder(Pitch.parse(f"{tonic}2").midi, mode)
        for index in range(10, 20):
            line = spell(key, keys[index])
            above = answer(line, scale_of(key), Distance.parse(f"{name} above"))
            below = answer(line, scale_of(key), Distance.parse(f"{name} below"))
            assert above.midi == keys[index + INTERVALS[name]]
            assert below.midi == keys[index - INTERVALS[name]]
            assert Interval.between(line, above).number == INTERVALS[name] + 1
            assert {above.name, below.name} <= set(key.names)


@pytest.mark.parametrize(
    ("key", "interval", "qualities"),
    [  # from the tonic up; as any book on harmony lists them
        ("C ionian", "third above", "M3 m3 m3 M3 M3 m3 m3"),
        ("C ionian", "fourth above", "P4 P4 P4 A4 P4 P4 P4"),
        ("C ionian", "fifth above", "P5 P5 P5 P5 P5 P5 d5"),
        ("D dorian", "third above", "m3 m3 M3 M3 m3 m3 M3"),
        ("E phrygian", "third above", "m3 M3 M3 m3 m3 M3 m3"),
        ("F lydian", "third above", "M3 M3 m3 m3 M3 m3 m3"),
        ("G mixolydian", "third above", "M3 m3 m3 M3 m3 m3 M3"),
        ("E aeolian", "third above", "m3 m3 M3 m3 m3 M3 M3"),
        ("E aeolian", "sixth above", "m6 m6 M6 M6 m6 M6 M6"),
        ("E aeolian", "fifth above", "P5 d5 P5 P5 P5 P5 P5"),
        ("B locrian", "fifth above", "d5 P5 P5 P5 P5 P5 P5"),
        ("A harmonic minor", "third above", "m3 m3 M3 m3 M3 M3 m3"),
        ("A harmonic minor", "fifth above", "P5 d5 A5 P5 P5 P5 d5"),
        ("A melodic minor", "fifth above", "P5 P5 A5 P5 P5 d5 d5"),
        ("E phrygian dominant", "third above", "M3 M3 m3 m3 m3 M3 m3"),
    ],
)
def test_the_quality_follows_the_mode(key: str, interval: str, qualities: str) -> None:
    parsed = Key.parse(key)
    found = []
    for name in parsed.names:
        line = Pitch(name, 3)
        found.append(str(Interval.between(line, answer(line, scale_of(parsed), Distance.parse(interval)))))
    assert " ".join(found) == qualities


@pytest.mark.parametrize("mode", ["ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian"])
def test_each_mode_has_one_tritone_among_its_fifths(mode: str) -> None:
    key = Key.parse(f"D {mode}")
    sizes = [
        answer(Pitch(n, 3), scale_of(key), Distance.parse("fifth above")).midi - Pitch(n, 3).midi for n in key.names
    ]
    assert sorted(sizes) == [6, 7, 7, 7, 7, 7, 7]


@pytest.mark.parametrize(
    ("interval", "semitones"),
    [
        ("perfect fourth above", 5),
        ("perfect fifth below", -7),
        ("major third above", 4),
        ("minor third below", -3),
        ("augmented fourth above", 6),
        ("minor sixth below", -8),
        ("major tenth above", 16),
    ],
)
def test_an_exact_interval_never_changes(interval: str, semitones: int) -> None:
    key = Key.parse("E aeolian")
    for midi in range(52, 76):
        line = spell(key, midi)
        assert answer(line, scale_of(key), Distance.parse(interval)).midi == midi + semitones


@pytest.mark.parametrize(
    ("key", "interval", "line", "answers"),
    [
        ("A minor pentatonic", "third above", "A3 C4 D4 E4 G4", "C4 E4 G4 G4 C5"),
        ("A minor pentatonic", "third below", "A3 C4 D4 E4 G4", "E3 A3 A3 C4 E4"),
        ("A minor pentatonic", "fifth above", "A3 C4 D4 E4 G4", "E4 G4 A4 C5 D5"),
        ("A minor pentatonic", "octave above", "A3 C4", "A4 C5"),
        ("C major pentatonic", "third above", "C4 D4 E4 G4 A4", "E4 G4 G4 C5 C5"),
    ],
)
def test_a_pentatonic_answer_is_one_of_its_five_notes(key: str, interval: str, line: str, answers: str) -> None:
    parsed = Key.parse(key)
    found = [answer(Pitch.parse(word), scale_of(parsed), Distance.parse(interval)) for word in line.split()]
    assert " ".join(map(str, found)) == answers


@pytest.mark.parametrize(
    ("key", "line", "third_above"),
    [
        ("E aeolian", "C#4", "E4"),  # dorian's sixth: as C has it
        ("E aeolian", "D#4", "F#4"),  # harmonic minor's seventh
        ("E aeolian", "F4", "A4"),  # phrygian's second
        ("A aeolian", "Bb3", "D4"),  # the same, spelled by its mode although the key has no flats
        ("E aeolian", "A#4", "C#5"),  # no third would be left to C: both are raised
        ("E aeolian", "G#4", "B4"),  # a raised third: major, as the dominant's
    ],
)
def test_a_note_outside_the_key(key: str, line: str, third_above: str) -> None:
    parsed = Key.parse(key)
    pitch = spell(parsed, Pitch.parse(line).midi)
    assert str(pitch) == line
    assert str(answer(pitch, scale_of(parsed), Distance.parse("third above"))) == third_above
