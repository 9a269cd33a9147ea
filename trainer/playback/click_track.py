"""Where the click sounds: its pattern laid over the bars of a piece, and the count-in.

Patterns count in pulses: a quarter in 4/4 and 7/8, a dotted quarter in 12/8. They begin anew with every bar, so in
7/8 the pulses fall on 1, 3, 5 and 7. In compound meters a figure of the plain grid is played as the same figure in
triplet time (`IN_COMPOUND`): there, eighths are three to the pulse, and the gallop is the triplet gallop. The
count-in counts as players do: pulses where the bar holds a whole number of them, every count where it does not.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from types import MappingProxyType
from typing import NamedTuple

from trainer.music.meter import Meter
from trainer.music.riff import Riff
from trainer.playback.channels import Voice
from trainer.playback.piece import Piece
from trainer.sounds.click_pattern import ClickPattern, ClickStroke, Follows
from trainer.sounds.dynamics import Weight


def _times(*texts: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(text) for text in texts)


IN_COMPOUND: Mapping[tuple[Fraction, ...], tuple[Fraction, ...]] = MappingProxyType(
    {
        _times("0", "1/2"): _times("0", "1/3", "2/3"),
        _times("0", "1/4", "1/2", "3/4"): _times("0", "1/6", "1/3", "1/2", "2/3", "5/6"),
        _times("0", "1/2", "3/4"): _times("0", "2/3", "5/6"),
        _times("0", "1/4", "1/2"): _times("0", "1/6", "1/3"),
        _times("1/2"): _times("2/3"),
    }
)
"""The strokes of a one-pulse figure in plain time, and the same figure when a pulse has three parts."""

BEATS = ClickPattern("beats", Fraction(1), (ClickStroke(Fraction(0)),))
"""What counts in, and what sounds where a pattern that follows the riff's accents finds none in the whole riff."""


class Click(NamedTuple):
    """One sound of the click."""

    place: Fraction
    """In whole notes from the bar's start."""
    accented: bool
    velocity: int


@dataclass(frozen=True, slots=True)
class SilentBars:
    """Some bars with the click, then some without, again and again, to test the player's own time."""

    heard: int
    silent: int

    def __post_init__(self) -> None:
        if self.heard < 1 or self.silent < 0:
            raise ValueError("at least one bar must be heard")

    @classmethod
    def parse(cls, text: str) -> "SilentBars":
        """Read "2:1". Raises ValueError for anything else; each number has at most two digits."""
        heard, colon, silent = text.strip().partition(":")
        if not colon or not all(n.isascii() and n.isdigit() and len(n) < 3 for n in (heard, silent)):
            raise ValueError(text)
        return cls(int(heard), int(silent))

    def sounds(self, bar: int) -> bool:
        """Whether the click sounds in the bar with this number, counted from 0 through all passes."""
        return bar % (self.heard + self.silent) < self.heard


@dataclass(frozen=True)
class ClickTrack:
    """The click of a piece."""

    piece: Piece
    voice: Voice
    """The click's; its kit says how loud each weight is."""
    pattern: ClickPattern | None
    """None: no click, only the count-in."""

    def bar(self, index: int) -> tuple[Click, ...]:
        """The clicks in the bar with this index, in order of time."""
        if self.pattern is None:
            return ()
        bar = self.piece.bars[index]
        if self.pattern.follows is Follows.ACCENTS:
            accents = self._accents[bar.riff]
            if any(accents):
                return self._clicks(self._led(accents[bar.number]), Fraction(1))
            return self.figure(bar.meter, BEATS)
        return self.figure(bar.meter, self.pattern)

    def count_in(self, meter: Meter) -> tuple[Click, ...]:
        """The clicks of one bar of the count-in."""
        if (meter.length / meter.pulse).denominator == 1:
            return self.figure(meter, BEATS)
        first = (Weight.ACCENT if n == 0 else Weight.PLAIN for n in range(meter.counts))
        return self._clicks((ClickStroke(Fraction(n), each) for n, each in enumerate(first)), meter.count_length)

    def figure(self, meter: Meter, pattern: ClickPattern) -> tuple[Click, ...]:
        """The clicks of a pattern in a bar of this meter."""
        return self._figures.get((meter, pattern)) or self._figures.setdefault(
            (meter, pattern),
            self._clicks(in_meter(pattern, meter).in_bar(meter.length / meter.pulse), meter.pulse),
        )

    @cached_property
    def _figures(self) -> dict[tuple[Meter, ClickPattern], tuple[Click, ...]]:
        return {}

    @cached_property
    def _accents(self) -> list[list[dict[Fraction, Weight]]]:
        known: dict[int, list[dict[Fraction, Weight]]] = {}
        for played in self.piece.riffs:
            if id(played.riff) not in known:
                known[id(played.riff)] = accents(played.riff)
        return [known[id(played.riff)] for played in self.piece.riffs]

    def _led(self, accents: dict[Fraction, Weight]) -> tuple[ClickStroke, ...]:
        """Accents as strokes: plain, the strong ones accented, and one on the first count as the pattern says."""
        first = self.pattern is not None and self.pattern.accent_first
        strong = {at: weight is Weight.STRONG or (first and at == 0) for at, weight in accents.items()}
        return tuple(ClickStroke(at, Weight.ACCENT if strong[at] else Weight.PLAIN) for at in sorted(accents))

    def _clicks(self, strokes: Iterable[ClickStroke], unit: Fraction) -> tuple[Click, ...]:
        kit = self.voice.patch.kit
        velocities = dict(kit.velocities) if kit else {}
        return tuple(
            Click(
                stroke.at * unit,
                stroke.weight in (Weight.ACCENT, Weight.STRONG),
                velocities.get(stroke.weight, 100),
            )
            for stroke in strokes
        )


def in_meter(pattern: ClickPattern, meter: Meter) -> ClickPattern:
    """The pattern as it is played in a meter: in compound ones, a known figure in triplet time."""
    times = tuple(stroke.at for stroke in pattern.strokes)
    if not meter.compound or pattern.length != 1 or times not in IN_COMPOUND:
        return pattern
    softer = pattern.strokes[-1].weight
    weights = {stroke.at: stroke.weight for stroke in pattern.strokes}
    strokes = tuple(ClickStroke(at, weights.get(at, softer)) for at in IN_COMPOUND[times])
    return replace(pattern, strokes=strokes)


def accents(riff: Riff) -> list[dict[Fraction, Weight]]:
    """For each bar of a riff, where its parts on strings have accents, and the stronger mark of each place."""
    bars: list[dict[Fraction, Weight]] = [{} for _ in riff.meters]
    for part in riff.tabs:
        for found, bar in zip(bars, part.bars, strict=False):
            for moment in bar:
                if moment.accent and moment.notes and found.get(moment.offset) is not Weight.STRONG:
                    found[moment.offset] = Weight.STRONG if moment.accent == "^" else Weight.ACCENT
    return bars
