"""A riff: a named passage of an exercise, some bars that every part shares."""

from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate

from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.part import DrumPart, HarmonyPart, Part, TabPart
from trainer.music.tempo import Tempo, TempoMark, TempoSpan, tempo_map


@dataclass(frozen=True, slots=True)
class Riff:
    """A named passage. Places inside it are in whole notes from its start.

    >>> tempo = Tempo(Fraction(92), Fraction(168))
    >>> riff = Riff("Low road", Key.parse("E aeolian"), tempo, meters=(Meter(4, 4), Meter(7, 8)), parts=())
    >>> riff.bar_starts
    (Fraction(0, 1), Fraction(1, 1), Fraction(15, 8))
    """

    name: str
    key: Key
    tempo: Tempo
    meters: tuple[Meter, ...]
    """One for each bar."""
    parts: tuple[Part, ...]
    """In the order of the file."""
    tempo_marks: tuple[TempoMark, ...] = ()
    """In order of place."""
    tuning: tuple[str, ...] = ()
    """A tuning of this riff's own, low to high; empty for the exercise's."""
    prose: str = ""
    """What the player reads, CommonMark."""
    order: tuple[int, ...] = field(default=(), compare=False)
    """For each bar that is played the number, from 0, of the written bar it is; empty where all are played as written.

    It says how the file writes the riff, not what the music is: riffs that differ in it only are equal."""

    @property
    def bar_starts(self) -> tuple[Fraction, ...]:
        """Where each bar begins, and last where the riff ends: one more value than bars."""
        return bar_starts(self.meters)

    @property
    def length(self) -> Fraction:
        """In whole notes."""
        return self.bar_starts[-1]

    @property
    def tempo_map(self) -> tuple[TempoSpan, ...]:
        """The tempos through the riff at its target tempo."""
        return tempo_map(self.meters, self.tempo.target, self.tempo_marks)

    @property
    def part_names(self) -> tuple[str, ...]:
        """The parts' names, in the order of the file."""
        return tuple(part.name for part in self.parts)

    def part(self, name: str) -> Part | None:
        """The part of that name, or None."""
        return next((part for part in self.parts if part.name == name), None)

    @property
    def tabs(self) -> tuple[TabPart, ...]:
        """The parts written on strings."""
        return tuple(part for part in self.parts if isinstance(part, TabPart))

    @property
    def drums(self) -> tuple[DrumPart, ...]:
        """The parts written for the kit."""
        return tuple(part for part in self.parts if isinstance(part, DrumPart))

    @property
    def harmonies(self) -> tuple[HarmonyPart, ...]:
        """The parts that are still to be computed."""
        return tuple(part for part in self.parts if isinstance(part, HarmonyPart))


@lru_cache(maxsize=256)
def bar_starts(meters: tuple[Meter, ...]) -> tuple[Fraction, ...]:
    """Where each bar begins, and last where the music ends, in whole notes."""
    return tuple(accumulate((meter.length for meter in meters), initial=Fraction(0)))
