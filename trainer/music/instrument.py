"""A fretted instrument: its tuning, capo and number of frets, and which pitch each place on its neck sounds."""

from dataclasses import dataclass

from trainer.music.pitch import Pitch

STANDARD = ("E2", "A2", "D3", "G3", "B3", "E4")
"""Guitar, low to high."""
BASS = ("E1", "A1", "D2", "G2")
"""Bass, low to high."""

HARMONICS = {3: 31, 4: 28, 5: 24, 7: 19, 9: 28, 12: 12, 16: 28, 19: 19, 24: 24}
"""Natural harmonics: the fret touched, and semitones above the open string (whole divisions of the string)."""

MAX_STRINGS = 12
MAX_FRETS = 36


@dataclass(frozen=True, slots=True)
class Instrument:
    """A neck. Strings are numbered from 1, the thinnest; frets from 0, the open string (or the capo)."""

    tuning: tuple[Pitch, ...]
    """Open strings, low to high, as written in the file."""
    capo: int = 0
    """The fret the capo stands on; written frets count from it."""
    frets: int = 24
    """Frets on the neck."""

    @property
    def strings(self) -> int:
        """How many strings it has."""
        return len(self.tuning)

    @property
    def last_fret(self) -> int:
        """The highest fret that can be written: the neck's last one, counted from the capo."""
        return self.frets - self.capo

    def open_midi(self, string: int) -> int:
        """The MIDI key of an open string, capo included."""
        return self.tuning[len(self.tuning) - string].midi + self.capo

    def midi(self, string: int, fret: int) -> int:
        """The MIDI key that a fretted (or open) string sounds."""
        return self.open_midi(string) + fret

    def harmonic_midi(self, string: int, fret: int) -> int:
        """The MIDI key of the natural harmonic over a fret of `HARMONICS`."""
        return self.open_midi(string) + HARMONICS[fret]

    def places(self, midi: int) -> tuple[tuple[int, int], ...]:
        """Every (string, fret) that sounds a MIDI key, thinnest string first."""
        found = ((string, midi - self.open_midi(string)) for string in range(1, self.strings + 1))
        return tuple((string, fret) for string, fret in found if 0 <= fret <= self.last_fret)


def instrument(tuning: tuple[str, ...] = STANDARD, capo: int = 0, frets: int = 24) -> Instrument:
    """An instrument from the names of its open strings, low to high."""
    return Instrument(tuple(Pitch.parse(name) for name in tuning), capo, frets)
