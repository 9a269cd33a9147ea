"""Keys and modes: a tonic and the scale above it, with spelling by degree.

The scales are the trade's; each is a table row of (steps, semitones) above the tonic, so that spelling follows the
degree: the seventh of E aeolian is D, never C##.
"""

from dataclasses import dataclass
from functools import lru_cache

from trainer.music.pitch import STEP_SEMITONES, Name, Pitch


def _seven(*semitones: int) -> tuple[tuple[int, int], ...]:
    return tuple(enumerate(semitones))


MODES: dict[str, tuple[tuple[int, int], ...]] = {
    "ionian": _seven(0, 2, 4, 5, 7, 9, 11),
    "dorian": _seven(0, 2, 3, 5, 7, 9, 10),
    "phrygian": _seven(0, 1, 3, 5, 7, 8, 10),
    "lydian": _seven(0, 2, 4, 6, 7, 9, 11),
    "mixolydian": _seven(0, 2, 4, 5, 7, 9, 10),
    "aeolian": _seven(0, 2, 3, 5, 7, 8, 10),
    "locrian": _seven(0, 1, 3, 5, 6, 8, 10),
    "major": _seven(0, 2, 4, 5, 7, 9, 11),
    "minor": _seven(0, 2, 3, 5, 7, 8, 10),
    "harmonic minor": _seven(0, 2, 3, 5, 7, 8, 11),
    "melodic minor": _seven(0, 2, 3, 5, 7, 9, 11),
    "phrygian dominant": _seven(0, 1, 4, 5, 7, 8, 10),
    "major pentatonic": ((0, 0), (1, 2), (2, 4), (4, 7), (5, 9)),
    "minor pentatonic": ((0, 0), (2, 3), (3, 5), (4, 7), (6, 10)),
}
"""Each scale's degrees as (steps, semitones) above the tonic."""

_SHARPS_OF_MAJOR = {0: 0, 1: 2, 2: 4, 3: -1, 4: 1, 5: 3, 6: 5}
"""Sharps (flats negative) in the key signature of the major key on each natural step."""
_SIGNATURE_SHIFT = {
    "ionian": 0,
    "dorian": -2,
    "phrygian": -4,
    "lydian": 1,
    "mixolydian": -1,
    "aeolian": -3,
    "locrian": -5,
    "major": 0,
    "minor": -3,
    "harmonic minor": -3,
    "melodic minor": -3,
    "phrygian dominant": -4,
    "major pentatonic": 0,
    "minor pentatonic": -3,
}
"""How many sharps fewer a mode's signature has than the major key on the same tonic."""


@dataclass(frozen=True, slots=True)
class Key:
    """A tonic and a mode, such as E aeolian."""

    tonic: Name
    mode: str
    """A key of `MODES`."""

    @classmethod
    def parse(cls, text: str) -> "Key":
        """Read "E aeolian" or "F# harmonic minor". Raises ValueError for anything else."""
        tonic, _, mode = " ".join(text.split()).partition(" ")
        if mode.casefold() not in MODES:
            raise ValueError(text)
        return cls(Name.parse(tonic), mode.casefold())

    @property
    def names(self) -> tuple[Name, ...]:
        """The scale's note names from the tonic up."""
        return _names(self)

    @property
    def semitones(self) -> tuple[int, ...]:
        """The scale's pitch classes, 0 (C) to 11 (B), from the tonic up."""
        return tuple(name.semitone for name in self.names)

    @property
    def sharps(self) -> int:
        """Sharps in the key signature; flats are negative."""
        return _SHARPS_OF_MAJOR[self.tonic.step] + 7 * self.tonic.alter + _SIGNATURE_SHIFT[self.mode]

    def spell(self, midi: int) -> Pitch:
        """The spelled pitch of a MIDI key: the scale's own name, or the nearest alteration of one.

        A note outside the scale is named as a raised degree in keys of sharps and a lowered one in keys of flats,
        except the raised seventh of minor keys, which leads to the tonic and is always a raised degree.
        """
        name = _spellings(self)[midi % 12]
        octave = (midi - STEP_SEMITONES[name.step] - name.alter) // 12 - 1
        return Pitch(name, octave)

    def __str__(self) -> str:
        """The words it is read from."""
        return f"{self.tonic} {self.mode}"


@lru_cache(maxsize=512)
def _names(key: Key) -> tuple[Name, ...]:
    tonic = Pitch(key.tonic, 4)
    names = []
    for steps, semitones in MODES[key.mode]:
        step = (key.tonic.step + steps) % 7
        octave = 4 + (key.tonic.step + steps) // 7
        names.append(Name(step, tonic.midi + semitones - Pitch(Name(step), octave).midi))
    return tuple(names)


@lru_cache(maxsize=512)
def _spellings(key: Key) -> tuple[Name, ...]:
    """For each of the twelve pitch classes, the name it bears in this key."""
    spelled = {name.semitone: name for name in key.names}
    leading = (key.tonic.semitone - 1) % 12
    spelled.setdefault(leading, Name((key.tonic.step - 1) % 7, _alter((key.tonic.step - 1) % 7, leading)))
    for semitone in range(12):
        candidates = [Name(step, _alter(step, semitone)) for step in range(7)]
        up = key.sharps >= 0
        spelled.setdefault(
            semitone, min(candidates, key=lambda name: (abs(name.alter), name.alter < 0 if up else name.alter > 0))
        )
    return tuple(spelled[semitone] for semitone in range(12))


def _alter(step: int, semitone: int) -> int:
    """Semitones from a natural step to a pitch class, -6 to 5."""
    return (semitone - STEP_SEMITONES[step] + 6) % 12 - 6
