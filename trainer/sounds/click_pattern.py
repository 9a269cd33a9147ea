"""Which counts the click sounds: patterns as data, in exact fractions of a pulse."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from trainer.sounds.dynamics import Weight


class Follows(StrEnum):
    """What a click pattern is made from, when it is not from a grid of its own."""

    NOTHING = ""
    ACCENTS = "accents"
    """It sounds where the riff itself has accents; the timeline knows where."""


@dataclass(frozen=True, slots=True)
class ClickStroke:
    """One sound of the click inside a pattern or a bar."""

    at: Fraction
    """In pulses from the beginning: a pulse is what the foot taps, a dotted quarter in 12/8."""
    weight: Weight = Weight.PLAIN


@dataclass(frozen=True, slots=True)
class ClickPattern:
    """A figure of strokes that begins anew with every bar and repeats until the bar ends."""

    name: str
    length: Fraction
    """In pulses, over 0."""
    strokes: tuple[ClickStroke, ...]
    """In order of time, each inside `length`; empty for a pattern that follows the riff."""
    accent_first: bool = True
    """Whether a stroke on the first count of a bar is accented."""
    follows: Follows = Follows.NOTHING
    about: str = ""
    """One line for the player."""

    def in_bar(self, pulses: Fraction) -> tuple[ClickStroke, ...]:
        """The strokes of a bar that is `pulses` long, in order of time; none for a pattern that follows the riff."""
        found: list[ClickStroke] = []
        start = Fraction(0)
        while start < pulses and self.strokes:
            for stroke in self.strokes:
                at = start + stroke.at
                if at < pulses:
                    first = self.accent_first and at == 0
                    found.append(ClickStroke(at, Weight.ACCENT if first else stroke.weight))
            start += self.length
        return tuple(found)
