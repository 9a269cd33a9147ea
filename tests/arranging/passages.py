"""Fifty invented passages with answers written by hand, before the program was run on them.

How they are written: bars between |, and the words of a bar divide it evenly. A pitch ("E2") lies at its lowest fret,
"6.3" is string 6, fret 3; "+" joins what sounds together, "-" lets the word before sound on, "r" is a rest. Before a
pitch or fret stands h, p, / or \\ as in the exercise file; after it m (palm mute), R (let ring), b (bent a whole tone)
or ~. "( … )*3" is played three times.

How they are answered:

- `mode`: every answer that a teacher would accept; "chromatic" and "none" are answers too.
- `chords`: for each bar its chord, "." where none is played; two words for two half bars.
- `roles`: for each part a role a bar: tune, pedal, rhythm, rest, "unison with X", "octave below X", "3 below X".
- `figures`: a letter a bar: the same letter is the same bar, "At" is A transposed, "Ar" is A in rhythm only.
- `fingers`: of guitar 1's notes in order, 0 for an open string; `strokes`: of its picked notes.
"""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product

from trainer.music.instrument import BASS, STANDARD, Instrument, instrument
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.note import Attack, Moment, Note
from trainer.music.part import TabPart
from trainer.music.pitch import Pitch
from trainer.music.riff import Riff
from trainer.music.tempo import Tempo


@dataclass(frozen=True, slots=True)
class Passage:
    """One passage and its answers; an empty answer was not asked."""

    name: str
    key: str
    parts: dict[str, str]
    mode: tuple[str, ...] = ()
    chords: str = ""
    roles: dict[str, str] = field(default_factory=dict)
    figures: str = ""
    fingers: tuple[str, ...] = ()
    strokes: str = ""
    meter: str = "4/4"
    bpm: int = 140


def line(text: str) -> dict[str, str]:
    """A passage of one guitar."""
    return {"guitar 1": text}


LINES = (
    Passage(
        "stepwise, the sixth never heard",
        "E aeolian",
        line("5.7 4.4 4.5 4.7 4.5 4.4 5.7 5.5 | 5.7 4.4 5.7 5.5 5.7 - - -"),
        mode=("E aeolian", "E dorian"),
        chords=". | .",
        roles={"guitar 1": "tune | tune"},
        figures="A B",
        strokes="dudududu dudud",
    ),
    Passage(
        "dorian by its sixth",
        "D dorian",
        line("D4 E4 F4 G4 A4 B4 A4 G4 | F4 E4 D4 C4 B3 C4 D4 -"),
        mode=("D dorian",),
        chords=". | .",
    ),
    Passage(
        "dorian in a file that says aeolian",
        "A aeolian",
        line("A3 B3 C4 D4 E4 F#4 E4 D4 | C4 D4 E4 F#4 G4 F#4 E4 A3"),
        mode=("A dorian",),
        chords=". | .",
    ),
    Passage(
        "phrygian by its second",
        "E phrygian",
        line("E3 F3 G3 F3 E3 D3 E3 F3 | A3 B3 C4 B3 A3 G3 F3 E3"),
        mode=("E phrygian",),
        chords=". | .",
        strokes="dudududu dudududu",
    ),
    Passage(
        "phrygian dominant",
        "E phrygian dominant",
        line("E3 F3 G#3 A3 B3 C4 B3 A3 | G#3 F3 E3 D3 E3 F3 E3 -"),
        mode=("E phrygian dominant",),
        chords=". | .",
    ),
    Passage(
        "harmonic minor run",
        "A harmonic minor",
        line("A3 B3 C4 D4 E4 F4 G#4 A4 | B4 A4 G#4 F4 E4 D4 B3 A3"),
        mode=("A harmonic minor",),
        chords=". | .",
    ),
    Passage(
        "locrian",
        "B locrian",
        line("B2 C3 D3 E3 F3 E3 D3 C3 | B2 D3 F3 G3 A3 G3 F3 B2"),
        mode=("B locrian",),
        chords=". | .",
    ),
    Passage(
        "lydian",
        "F lydian",
        line("F3 G3 A3 B3 C4 B3 A3 G3 | A3 C4 D4 E4 C4 B3 G3 F3"),
        mode=("F lydian",),
        chords=". | .",
    ),
    Passage(
        "mixolydian",
        "A mixolydian",
        line("A3 B3 C#4 D4 E4 D4 C#4 B3 | A3 G3 F#3 G3 A3 B3 A3 -"),
        mode=("A mixolydian",),
        chords=". | .",
    ),
    Passage(
        "five notes of minor",
        "E minor pentatonic",
        line("E3 G3 A3 B3 D4 B3 A3 G3 | E3 D3 E3 G3 A3 G3 E3 -"),
        mode=("E minor pentatonic",),
        chords=". | .",
    ),
    Passage(
        "chromatic finger drill",
        "E aeolian",
        line("6.5 6.6 6.7 6.8 5.5 5.6 5.7 5.8 | 4.5 4.6 4.7 4.8 3.5 3.6 3.7 3.8"),
        mode=("chromatic",),
        chords=". | .",
        figures="A At",
        fingers=("12341234 12341234",),
        strokes="dudududu dudududu",
    ),
    Passage(
        "chromatic descent",
        "A aeolian",
        line("A4 G#4 G4 F#4 F4 E4 D#4 D4 | C#4 C4 B3 A#3 A3 - - -"),
        mode=("chromatic",),
        chords=". | .",
        figures="A B",
    ),
    Passage(
        "open gallop",
        "E aeolian",
        {
            "guitar 1": "(6.0m - 6.0m 6.0m)*4 | (6.0m - 6.0m 6.0m)*4",
            "bass": "(E1 - E1 E1)*4 | (E1 - E1 E1)*4",
        },
        mode=("none",),
        chords=". | .",
        roles={"guitar 1": "pedal | pedal", "bass": "pedal | pedal"},
        figures="A A",
        strokes="dduddudduddu dduddudduddu",
    ),
    Passage(
        "gallop with a tail, bass in octaves",
        "E aeolian",
        {
            "guitar 1": "(6.0m - 6.0m 6.0m)*3 6.3 - 6.2 - | (6.0m - 6.0m 6.0m)*2 6.5 - 6.3 - 6.2 - 6.3 -",
            "bass": "(E1 - E1 E1)*3 G1 - F#1 - | (E1 - E1 E1)*2 A1 - G1 - F#1 - G1 -",
        },
        mode=("E aeolian", "E dorian", "E harmonic minor", "E melodic minor"),
        chords=". | .",
        roles={"guitar 1": "rhythm | rhythm", "bass": "octave below guitar 1 | octave below guitar 1"},
        figures="A B",
        strokes="ddudduddudd dduddudddd",
    ),
    Passage(
        "unison twins",
        "E aeolian",
        {
            "guitar 1": "4.2 4.4 4.5 3.2 3.4 3.2 4.5 4.4 | 3.2 3.4 3.5 2.3 2.5 - - -",
            "guitar 2": "5.7 5.9 5.10 4.7 4.9 4.7 5.10 5.9 | 4.7 4.9 4.10 3.7 3.9 - - -",
        },
        mode=("E aeolian",),
        chords=". | .",
        roles={"guitar 1": "tune | tune", "guitar 2": "unison with guitar 1 | unison with guitar 1"},
        figures="A B",
    ),
    Passage(
        "trills that climb",
        "A aeolian",
        line("(A4 C5)*4 (B4 D5)*4 | (C5 E5)*4 (D5 F5)*4"),
        mode=("A aeolian", "A harmonic minor"),
        chords=". | .",
        figures="A Ar",
        strokes="dudududududududu dudududududududu",
    ),
    Passage(
        "triplets down a minor scale",
        "B aeolian",
        line("B4 A4 G4 A4 G4 F#4 G4 F#4 E4 F#4 E4 D4 | E4 D4 C#4 D4 C#4 B3 C#4 B3 A3 B3 - -"),
        mode=("B aeolian",),
        chords=". | .",
        strokes="dudududududu dududududd",
    ),
    Passage(
        "reverse gallop on a low note",
        "G aeolian",
        line("(6.3m 6.3m 6.3m -)*3 6.6 - 6.5 - | (6.3m 6.3m 6.3m -)*3 5.3 - 5.1 -"),
        mode=("G aeolian", "G dorian", "G harmonic minor", "G melodic minor"),
        chords=". | .",
        roles={"guitar 1": "rhythm | rhythm"},
        figures="A Ar",
        strokes="duddudduddd duddudduddd",
    ),
    Passage(
        "seven eight line over a held bass",
        "D aeolian",
        {
            "guitar 1": "D4 E4 F4 G4 F4 E4 C4 | D4 F4 A4 Bb4 A4 F4 E4",
            "bass": "D2 - - - - - - | D2 - - - - - -",
        },
        mode=("D aeolian",),
        chords=". | .",
        roles={"guitar 1": "tune | tune", "bass": "pedal | pedal"},
        figures="A Ar",
        meter="7/8",
    ),
    Passage(
        "thirds in the air",
        "A aeolian",
        {
            "guitar 1": "A4 B4 C5 D5 E5 D5 C5 B4 | A4 G4 A4 B4 C5 - - -",
            "guitar 2": "F4 G4 A4 B4 C5 B4 A4 G4 | F4 E4 F4 G4 A4 - - -",
        },
        mode=("A aeolian",),
        chords=". | .",
        roles={"guitar 1": "tune | tune", "guitar 2": "3 below guitar 1 | 3 below guitar 1"},
        figures="A B",
    ),
    Passage(
        "bends count where they arrive",
        "A dorian",
        line("A4 E5b E5 D5 C5 - A4 - | G4 A4 C5 E5b D5 C5 A4 -"),
        mode=("A dorian",),
        chords=". | .",
        figures="A B",
    ),
)
"""Nothing here is a chord."""

CHORDS = (
    Passage(
        "power chords",
        "E aeolian",
        {
            "guitar 1": "(6.0+5.2)*4 (6.3+5.5)*4 | (5.3+4.5)*4 (5.5+4.7)*4",
            "bass": "(E1)*4 (G1)*4 | (C2)*4 (D2)*4",
        },
        mode=("E aeolian", "E phrygian"),
        chords="E5 G5 | C5 D5",
        roles={"guitar 1": "rhythm | rhythm"},
        figures="A Ar",
    ),
    Passage(
        "held power chords, a bar each",
        "D aeolian",
        {"guitar 1": "5.5+4.7 - | 6.6+5.8 - | 6.8+5.10 - | 5.5+4.7 -", "bass": "D2 - | Bb1 - | C2 - | D2 -"},
        mode=("D aeolian", "D phrygian"),
        chords="D5 | Bb5 | C5 | D5",
        roles={"guitar 1": "rhythm | rhythm | rhythm | rhythm"},
        figures="A At At A",
    ),
    Passage(
        "arpeggio of one chord a bar",
        "A aeolian",
        line("5.0R 4.2R 3.2R 2.1R 1.0R 2.1R 3.2R 4.2R | 4.0R 3.2R 2.3R 1.1R 2.3R 3.2R 4.0R 3.2R"),
        mode=("A aeolian", "A phrygian", "A harmonic minor"),
        chords="Am | Dm",
        figures="A Ar",
    ),
    Passage(
        "arpeggio without let ring over a bass",
        "E aeolian",
        {
            "guitar 1": "E4 B3 G3 B3 E4 B3 G3 B3 | E4 C4 G3 C4 E4 C4 G3 C4",
            "bass": "E1 - - - - - - - | C2 - - - - - - -",
        },
        mode=("E aeolian", "E phrygian", "E harmonic minor"),
        chords="Em | C",
        figures="A Ar",
    ),
    Passage(
        "sweeps in minor and major",
        "B aeolian",
        line("B3 D4 F#4 B4 D5 B4 F#4 D4 | G3 B3 D4 G4 B4 G4 D4 B3 | A3 C#4 E4 A4 C#5 A4 E4 C#4"),
        mode=("B aeolian",),
        chords="Bm | G | A",
    ),
    Passage(
        "diminished arpeggio leads home",
        "A harmonic minor",
        line("G#3 B3 D4 F4 G#4 F4 D4 B3 | A3 C4 E4 A4 C5 A4 E4 C4"),
        mode=("A harmonic minor",),
        chords="G#dim7 | Am",
    ),
    Passage(
        "open chords strummed",
        "G ionian",
        {
            "guitar 1": "6.3+5.2+4.0+3.0+2.0+1.3 - - - | 5.3+4.2+3.0+2.1+1.0 - - - | 4.0+3.2+2.3+1.2 - - -",
            "bass": "G1 - - - | C2 - - - | D2 - - -",
        },
        mode=("G ionian",),
        chords="G | C | D",
        roles={"guitar 1": "rhythm | rhythm | rhythm"},
        figures="A Ar Ar",
    ),
    Passage(
        "suspended and resolved",
        "D ionian",
        line("4.0+3.2+2.3+1.3 - 4.0+3.2+2.3+1.2 - | 5.0+4.2+3.2+2.3 - 5.0+4.2+3.2+2.2 -"),
        mode=("D ionian",),
        chords="Dsus4 D | Asus4 A",
    ),
    Passage(
        "twin thirds over roots",
        "E aeolian",
        {
            "guitar 1": "B4 - - - - - - - | C5 - - - - - - - | A4 - - - - - - - | B4 - - - - - - -",
            "guitar 2": "G4 - - - - - - - | E4 - - - - - - - | F#4 - - - - - - - | G4 - - - - - - -",
            "bass": "(E1)*8 | (A1)*8 | (D2)*8 | (E1)*8",
        },
        chords="Em | Am | D | Em",
        mode=("E aeolian",),
    ),
    Passage(
        "melody over a strumming guitar",
        "A aeolian",
        {
            "guitar 1": "E5 D5 C5 B4 A4 B4 C5 E5 | F5 E5 D5 C5 A4 C5 D5 F5",
            "guitar 2": "(5.0+4.2+3.2+2.1)*4 | (4.0+3.2+2.3+1.1)*4",
            "bass": "A1 A1 A1 A1 | D2 D2 D2 D2",
        },
        mode=("A aeolian", "A harmonic minor"),
        chords="Am | Dm",
        roles={"guitar 1": "tune | tune", "guitar 2": "rhythm | rhythm", "bass": "rhythm | rhythm"},
    ),
    Passage(
        "chords that change on the half bar",
        "C ionian",
        {
            "guitar 1": "(5.3+4.2+3.0+2.1)*2 (3.0+2.0+1.3)*2 | (5.0+4.2+3.2+2.1)*2 (4.3+3.2+2.1+1.1)*2",
            "bass": "C2 C2 G1 G1 | A1 A1 F1 F1",
        },
        mode=("C ionian",),
        chords="C G | Am F",
        figures="A Ar",
    ),
    Passage(
        "twelve eight in rolled chords",
        "D aeolian",
        line(
            "4.0R 3.2R 2.3R 1.1R 2.3R 3.2R 4.0R 3.2R 2.3R 1.1R 2.3R 3.2R | "
            "5.1R 4.3R 3.3R 2.3R 3.3R 4.3R 5.1R 4.3R 3.3R 2.3R 3.3R 4.3R"
        ),
        mode=("D aeolian", "D phrygian", "D harmonic minor"),
        chords="Dm | Bb",
        meter="12/8",
    ),
    Passage(
        "gallop on chords",
        "E phrygian",
        {
            "guitar 1": "(6.0+5.2 - 6.0+5.2 6.0+5.2)*2 (6.1+5.3 - 6.1+5.3 6.1+5.3)*2 | "
            "(6.3+5.5 - 6.3+5.5 6.3+5.5)*2 (6.1+5.3 - 6.1+5.3 6.1+5.3)*2",
            "bass": "(E1 - E1 E1)*2 (F1 - F1 F1)*2 | (G1 - G1 G1)*2 (F1 - F1 F1)*2",
        },
        mode=("E phrygian",),
        chords="E5 F5 | G5 F5",
        roles={"guitar 1": "rhythm | rhythm"},
        figures="A Ar",
        strokes="dduddudduddu dduddudduddu",
    ),
    Passage(
        "first inversion",
        "C ionian",
        {"guitar 1": "G4+C5+E5 - - - | A4+C5+F5 - - - | G4+C5+E5 - - -", "bass": "E1 - - - | A1 - - - | C2 - - -"},
        mode=("C ionian", "C mixolydian"),
        chords="C | F | C",
    ),
    Passage(
        "seventh chords",
        "A dorian",
        {"guitar 1": "C4+E4+G4 - - - | C4+F#4+A4 - - - | G3+C4+E4 - - -", "bass": "A1 - - - | D2 - - - | A1 - - -"},
        mode=("A dorian",),
        chords="Am7 | D7 | Am7",
    ),
)
"""Chords are played, at once or one note after another."""

TWINS = (
    Passage(
        "tune and thirds above",
        "E aeolian",
        {
            "guitar 1": "E4 F#4 G4 A4 B4 A4 G4 F#4 | E4 D4 E4 G4 F#4 - - -",
            "guitar 2": "G4 A4 B4 C5 D5 C5 B4 A4 | G4 F#4 G4 B4 A4 - - -",
            "bass": "(E1)*8 | (E1)*8",
        },
        mode=("E aeolian",),
        roles={
            "guitar 1": "tune | tune",
            "guitar 2": "3 above guitar 1 | 3 above guitar 1",
            "bass": "pedal | pedal",
        },
    ),
    Passage(
        "sixths below",
        "D dorian",
        {
            "guitar 1": "D5 E5 F5 E5 D5 C5 B4 A4 | B4 C5 D5 - D5 - - -",
            "guitar 2": "F4 G4 A4 G4 F4 E4 D4 C4 | D4 E4 F4 - F4 - - -",
        },
        mode=("D dorian",),
        roles={"guitar 1": "tune | tune", "guitar 2": "6 below guitar 1 | 6 below guitar 1"},
    ),
    Passage(
        "they trade bars",
        "A aeolian",
        {
            "guitar 1": "A4 C5 B4 A4 G4 A4 B4 C5 | r - - - - - - - | E5 D5 C5 B4 C5 B4 A4 G4 | r - - - - - - -",
            "guitar 2": "r - - - - - - - | E5 D5 C5 B4 A4 B4 C5 D5 | r - - - - - - - | A4 B4 C5 D5 E5 D5 C5 B4",
        },
        mode=("A aeolian", "A dorian"),
        roles={"guitar 1": "tune | rest | tune | rest", "guitar 2": "rest | tune | rest | tune"},
    ),
    Passage(
        "one chugs while the other sings",
        "E aeolian",
        {
            "guitar 1": "(6.0m - 6.0m 6.0m)*4 | (6.0m - 6.0m 6.0m)*4",
            "guitar 2": "B4 - - A4 G4 - - F#4 | E4 - - F#4 G4 - A4 -",
            "bass": "(E1 - E1 E1)*4 | (E1 - E1 E1)*4",
        },
        mode=("E aeolian", "E dorian"),
        roles={"guitar 1": "pedal | pedal", "guitar 2": "tune | tune", "bass": "pedal | pedal"},
        figures="A A",
    ),
    Passage(
        "fourths above, the exact interval",
        "E aeolian",
        {
            "guitar 1": "E4 G4 A4 G4 E4 D4 E4 - | G4 A4 B4 A4 G4 E4 E4 -",
            "guitar 2": "A4 C5 D5 C5 A4 G4 A4 - | C5 D5 E5 D5 C5 A4 A4 -",
        },
        roles={"guitar 1": "tune | tune", "guitar 2": "4 above guitar 1 | 4 above guitar 1"},
    ),
    Passage(
        "octaves to finish",
        "B aeolian",
        {
            "guitar 1": "B4 C#5 D5 E5 F#5 E5 D5 C#5 | B4 A4 B4 - - - - -",
            "guitar 2": "G4 A4 B4 C#5 D5 C#5 B4 A4 | B3 A3 B3 - - - - -",
        },
        mode=("B aeolian",),
        roles={"guitar 1": "tune | tune", "guitar 2": "3 below guitar 1 | octave below guitar 1"},
    ),
    Passage(
        "held note under a line",
        "E aeolian",
        {
            "guitar 1": "E5 D5 E5 F#5 G5 F#5 E5 D5 | E5 C5 B4 A4 G4 A4 B4 C5",
            "guitar 2": "B4 - - - B4 - - - | B4 - - - B4 - - -",
        },
        mode=("E aeolian",),
        roles={"guitar 1": "tune | tune", "guitar 2": "pedal | pedal"},
    ),
    Passage(
        "guitar 2 takes the tune for the answer",
        "G ionian",
        {
            "guitar 1": "G4 A4 B4 D5 B4 A4 G4 A4 | (6.3+5.5 6.3+5.5)*4",
            "guitar 2": "(6.3+5.5 6.3+5.5)*4 | D5 C5 B4 A4 B4 A4 G4 E4",
            "bass": "(G1)*8 | (G1)*8",
        },
        mode=("G ionian", "G mixolydian"),
        roles={"guitar 1": "tune | rhythm", "guitar 2": "rhythm | tune", "bass": "pedal | pedal"},
    ),
)
"""Two guitars."""

HANDS = (
    Passage(
        "three notes a string",
        "A aeolian",
        line("6.5 6.7 6.8 5.5 5.7 5.8 4.5 4.7 4.9 3.5 3.7 3.9 2.5 2.6 1.5 1.7"),
        fingers=("134134 134134 1213", "134134 124124 1213"),
        strokes="dudududududududu",
    ),
    Passage(
        "box with a slide",
        "A minor pentatonic",
        line("2.8 2.5 3.7 3.5 4.7 4./9 3.7 3.9 | 3.7 2.8 2.10 1.8 1.10 - - -"),
        fingers=("41313313 12424", "41313313 11313"),
        strokes="dududdu dudud",
    ),
    Passage(
        "hammer-ons on open strings",
        "E aeolian",
        line("1.0 1.h3 1.p0 2.0 2.h3 2.p0 3.0 3.h2"),
        fingers=("03003002", "03003001", "02002001", "02002002", "03003003"),
    ),
    Passage(
        "gallop on an octave shape",
        "E aeolian",
        line("(5.7+3.9 - 5.7+3.9 5.7+3.9)*2 (5.5+3.7 - 5.5+3.7 5.5+3.7)*2"),
        fingers=("13" * 12, "14" * 12),
        strokes="dduddudduddu",
    ),
    Passage(
        "wide stretch high up",
        "E aeolian",
        line("1.12 1.h15 1.h19 1.p15 1.p12 2.12 2.h15 2.p12"),
        fingers=("12421 121", "12421 131", "12421 141", "13431 131", "13431 141"),
    ),
    Passage(
        "bend with the third finger",
        "A minor pentatonic",
        line("3.7b 2.5 2.8 3.7b 3.5 4.7 3.5 -"),
        fingers=("3143131",),
        strokes="dududud",
    ),
)
"""How it is played."""

PASSAGES = (*LINES, *CHORDS, *TWINS, *HANDS)


def riff(passage: Passage) -> Riff:
    """The passage as a riff."""
    meter = Meter.parse(passage.meter)
    parts = tuple(_part(name, text, meter) for name, text in passage.parts.items())
    bars = len(parts[0].bars)
    tempo = Tempo(Fraction(passage.bpm) / 2, Fraction(passage.bpm))
    return Riff(passage.name, Key.parse(passage.key), tempo, (meter,) * bars, parts)


def _part(name: str, text: str, meter: Meter) -> TabPart:
    neck = instrument(BASS if name == "bass" else STANDARD)
    return TabPart(name, neck, tuple(_bar(words(bar), neck, meter) for bar in text.split("|")))


def words(text: str) -> list[str]:
    """The words of a bar with its repeats written out."""
    return _REPEAT.sub(lambda found: " ".join([found[1]] * int(found[2])), text).split()


_REPEAT = re.compile(r"\(([^()]*)\)\*(\d+)")
_WORD = re.compile(r"(?:(\d)\.)?([hp/\\]?)(\d+|[A-G](?:#|b(?=\d))?\d)([mRb~]*)")


def _bar(found: list[str], neck: Instrument, meter: Meter) -> tuple[Moment, ...]:
    step = meter.length / len(found)
    moments = []
    for number, word in enumerate(found):
        if word == "r":
            moments.append(Moment(number * step, rest=True))
        elif word != "-":
            notes, marks = _notes(word.split("+"), neck)
            moments.append(Moment(number * step, notes, mute="m" in marks, ring="R" in marks))
    return tuple(moments)


def _notes(words_: list[str], neck: Instrument) -> tuple[tuple[Note, ...], str]:
    """What is struck at once, and its marks; pitches lie on strings of their own, as low on the neck as they can."""
    read = [_read(word) for word in words_]
    places = [
        [(int(string), int(what))] if string else neck.places(Pitch.parse(what).midi) for string, _, what, _ in read
    ]
    chosen = min(
        (choice for choice in product(*places) if len({string for string, _ in choice}) == len(choice)),
        key=lambda choice: max(fret for _, fret in choice),
    )
    notes = [
        Note(string, fret, Attack(attack), bend=fret + 2 if "b" in marks else None, vibrato="~" in marks)
        for (string, fret), (_, attack, _, marks) in zip(chosen, read, strict=True)
    ]
    return tuple(sorted(notes, key=lambda note: note.string)), "".join(marks for *_, marks in read)


def _read(word: str) -> tuple[str, str, str, str]:
    """String (empty for a pitch), attack, fret or pitch, marks."""
    found = _WORD.fullmatch(word)
    assert found, word
    return found[1] or "", found[2], found[3], found[4]
