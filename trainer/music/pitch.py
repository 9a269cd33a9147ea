"""Spelled pitch: F# and Gb sound alike and are not the same note to a musician.

Conventions: C4 is MIDI key 60 (middle C); a guitar's thickest string is E2. Steps count the white keys, C = 0 to B = 6.
"""

import re
from dataclasses import dataclass

STEP_NAMES = "CDEFGAB"
STEP_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
"""Semitones above C of the seven natural steps."""

_ALTERS = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2}
_ALTER_NAMES = {value: name for name, value in _ALTERS.items()}
_NAME = re.compile(r"([A-Ga-g])(##|#|bb|b)?")
_PITCH = re.compile(r"([A-Ga-g])(##|#|bb|b)?(-?\d)")


@dataclass(frozen=True, slots=True, order=True)
class Name:
    """A note name without its octave, such as F#.

    >>> Name.parse("F#") == Name.parse("Gb"), Name.parse("F#").semitone == Name.parse("Gb").semitone
    (False, True)
    """

    step: int
    """0 (C) to 6 (B)."""
    alter: int = 0
    """Semitones of sharps (positive) or flats (negative); theory may need more than two."""

    @classmethod
    def parse(cls, text: str) -> "Name":
        """Read "E", "F#" or "Bb". Raises ValueError for anything else."""
        found = _NAME.fullmatch(text)
        if not found:
            raise ValueError(text)
        return cls(STEP_NAMES.index(found[1].upper()), _ALTERS[found[2] or ""])

    @property
    def semitone(self) -> int:
        """0 (C) to 11 (B), as it sounds."""
        return (STEP_SEMITONES[self.step] + self.alter) % 12

    def __str__(self) -> str:
        """The name as it is written: "F#"."""
        sign = _ALTER_NAMES.get(self.alter) or ("#" * self.alter if self.alter > 0 else "b" * -self.alter)
        return STEP_NAMES[self.step] + sign


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch, such as F#3."""

    name: Name
    octave: int
    """The octave of the *step*: Cb4 is a semitone below C4, and B#3 sounds like C4."""

    @classmethod
    def parse(cls, text: str) -> "Pitch":
        """Read "E2", "F#3" or "Bb-1". Raises ValueError for anything else."""
        found = _PITCH.fullmatch(text)
        if not found:
            raise ValueError(text)
        return cls(Name.parse(found[1] + (found[2] or "")), int(found[3]))

    @property
    def midi(self) -> int:
        """The MIDI key number: 60 for C4."""
        return 12 * (self.octave + 1) + STEP_SEMITONES[self.name.step] + self.name.alter

    @property
    def diatonic(self) -> int:
        """Steps above C0, ignoring sharps and flats; the difference of two is a generic interval."""
        return 7 * self.octave + self.name.step

    def __str__(self) -> str:
        """The name as it is written: "F#3"."""
        return f"{self.name}{self.octave}"
