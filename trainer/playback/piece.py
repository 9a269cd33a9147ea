"""A piece: the riffs that are played one after another, each keeping its own tempo map, meters and key.

Places inside a piece are in whole notes from its start; bars count from 0 through the whole piece.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.exercise import Exercise
from trainer.music.meter import Meter
from trainer.music.part import HarmonyPart, PartSettings
from trainer.music.riff import Riff
from trainer.music.tempo import TempoSpan


@dataclass(frozen=True, slots=True)
class PlayedRiff:
    """A riff at its place in a piece."""

    riff: Riff
    number: int
    """Its index among the piece's riffs."""
    at: Fraction
    """Where it begins."""
    first_bar: int
    """The index of its first bar in the piece."""


@dataclass(frozen=True, slots=True)
class PieceBar:
    """One bar of a piece."""

    index: int
    """Counted from 0 through the piece."""
    riff: int
    """The index of its riff among the piece's riffs."""
    number: int
    """Counted from 0 in its riff."""
    at: Fraction
    """Where it begins."""
    meter: Meter

    @property
    def end(self) -> Fraction:
        """Where the next bar begins."""
        return self.at + self.meter.length


@dataclass(frozen=True, slots=True)
class Loop:
    """A range of bars, both ends included, counted from 0 through the piece.

    >>> Loop(2, 3).bars, 2 in Loop(2, 3), 4 in Loop(2, 3)
    (2, True, False)
    """

    first: int
    last: int

    def __post_init__(self) -> None:
        if not 0 <= self.first <= self.last:
            raise ValueError(f"bars {self.first} to {self.last} are no range")

    @property
    def bars(self) -> int:
        """How many bars it has."""
        return self.last - self.first + 1

    def __contains__(self, bar: int) -> bool:
        """Whether the bar with this index lies inside."""
        return self.first <= bar <= self.last


@dataclass(frozen=True, slots=True)
class Piece:
    """Riffs in the order in which they are played. Make one with `Piece.of`."""

    exercise: Exercise
    riffs: tuple[PlayedRiff, ...]
    bars: tuple[PieceBar, ...]

    @classmethod
    def of(cls, exercise: Exercise, riffs: Sequence[Riff]) -> "Piece":
        """The piece that plays `riffs` (one riff, or `exercise.played`), whose harmonies have been computed.

        Raises ValueError when there is no bar to play or a part is still to be computed.
        """
        played: list[PlayedRiff] = []
        bars: list[PieceBar] = []
        at = Fraction(0)
        for number, riff in enumerate(riffs):
            waiting = [part.name for part in riff.parts if isinstance(part, HarmonyPart)]
            if waiting:
                raise ValueError(f"{riff.name}: {', '.join(waiting)} must be computed before it is played")
            played.append(PlayedRiff(riff, number, at, len(bars)))
            starts = riff.bar_starts
            for i, meter in enumerate(riff.meters):
                bars.append(PieceBar(len(bars), number, i, at + starts[i], meter))
            at += starts[-1]
        if not bars:
            raise ValueError("a piece needs at least one bar")
        return cls(exercise, tuple(played), tuple(bars))

    @property
    def length(self) -> Fraction:
        """In whole notes."""
        return self.bars[-1].end

    @property
    def whole(self) -> Loop:
        """All of its bars."""
        return Loop(0, len(self.bars) - 1)

    @property
    def part_names(self) -> tuple[str, ...]:
        """The names of the parts that play in it, each once, in order of appearance."""
        return tuple(dict.fromkeys(name for played in self.riffs for name in played.riff.part_names))

    @property
    def tempo_map(self) -> tuple[TempoSpan, ...]:
        """The tempos through the piece, every riff at its own target tempo; places from the piece's start."""
        return tuple(
            TempoSpan(played.at + span.at, span.length, span.slow_from, span.slow_to)
            for played in self.riffs
            for span in played.riff.tempo_map
        )

    def settings(self, part: str) -> PartSettings:
        """What the front matter says of a part."""
        return self.exercise.settings(part)

    def riff_of(self, bar: int) -> PlayedRiff:
        """The riff that the bar with this index belongs to."""
        return self.riffs[self.bars[bar].riff]

    def target_bpm(self, bar: int) -> Fraction:
        """The tempo of a bar's riff at its target, in bpm."""
        return self.riff_of(bar).riff.tempo.target
