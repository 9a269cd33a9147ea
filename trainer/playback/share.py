"""How fast a piece is played: as a share of its target tempo, so that every tempo mark keeps its proportion.

A share of 1 is the target, 3/5 is 60 %. Where one number in bpm is asked for, it means the target tempo of the first
riff that is played; in a form all riffs take the same share of their own targets.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.problem import Problem, ProblemsError
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM

SMALLEST = Fraction(20, 100)
LARGEST = Fraction(150, 100)
"""Shares that can be asked for; a house rule."""

_NUMBER = re.compile(r"(\d{1,6}(?:\.\d{1,6})?)\s*(%?)", re.ASCII)


def exact_bpm(bpm: Fraction | float) -> Fraction:
    """A tempo as an exact number; a float, as the log and the ladder keep it, counts to a hundredth of a bpm.

    >>> exact_bpm(96.1)
    Fraction(961, 10)
    """
    return Fraction(round(bpm * 100), 100) if isinstance(bpm, float) else Fraction(bpm)


def playable_bpm(bpm: Fraction | float) -> Fraction:
    """The tempo nearest to `bpm` that can be played: 20 to 400 bpm."""
    return min(max(exact_bpm(bpm), Fraction(SLOWEST_BPM)), Fraction(FASTEST_BPM))


def share_for_bpm(bpm: Fraction | float, target_bpm: Fraction) -> Fraction:
    """The share of a target tempo that is `bpm`. Raises ValueError outside 20 to 400 bpm.

    >>> share_for_bpm(96, Fraction(160))
    Fraction(3, 5)
    """
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        raise ValueError(f"{bpm} bpm is outside {SLOWEST_BPM} to {FASTEST_BPM}")
    return exact_bpm(bpm) / target_bpm


def parse_share(text: str, target_bpm: Fraction) -> Fraction:
    """Read a tempo as the player asks for it: "96" (bpm) or "60%" (of the target).

    Raises ProblemsError for anything else and outside 20 to 400 bpm and 20 % to 150 %.
    """
    found = _NUMBER.fullmatch(text.strip())
    value = Fraction(found[1]) if found else Fraction(0)
    if found and found[2] and SMALLEST <= value / 100 <= LARGEST:
        return value / 100
    if found and not found[2] and SLOWEST_BPM <= value <= FASTEST_BPM:
        return share_for_bpm(value, target_bpm)
    raise ProblemsError(
        [
            Problem(
                "",
                0,
                0,
                f"The tempo {_shown(text)} cannot be played",
                f"{SLOWEST_BPM} to {FASTEST_BPM} bpm, or {100 * SMALLEST}% to {100 * LARGEST}% of the target",
                "Write a number such as 96, or per cent such as 60%",
            )
        ]
    )


@dataclass(frozen=True, slots=True)
class Climb:
    """A rise of the tempo from pass to pass, up to the target."""

    step: Fraction
    """In bpm, or in per cent of the tempo that was played."""
    percent: bool = False

    @classmethod
    def parse(cls, text: str) -> "Climb":
        """Read "4" (bpm) or "3%". Raises ProblemsError for anything else, for 0, and over 100."""
        found = _NUMBER.fullmatch(text.strip())
        if not found or not 0 < Fraction(found[1]) <= 100:
            what = f"The climb {_shown(text)} cannot be followed"
            raise ProblemsError([Problem("", 0, 0, what, "bpm such as 4, or per cent such as 3%, over 0 up to 100")])
        return cls(Fraction(found[1]), bool(found[2]))

    def after(self, share: Fraction, target_bpm: Fraction) -> Fraction:
        """The share of the pass after one at `share`: never over the target, unless it was played over the target.

        A rise in per cent is rounded to a hundredth of a bpm.
        """
        bpm = share * target_bpm
        risen = Fraction(round(bpm * (100 + self.step)), 100) if self.percent else bpm + self.step
        return max(share, min(risen / target_bpm, Fraction(1)))


NextShare = Callable[["PassReport"], Fraction | None]
"""Asked before each pass but the first for its share; it gets the pass before. None ends the playing there."""


@dataclass(frozen=True, slots=True)
class PassReport:
    """One pass through the loop, as it was timed."""

    number: int
    """Counted from 1."""
    share: Fraction
    """The share of the target tempo at its end."""
    tempo_bpm: Fraction
    """The tempo that share makes of the target of the loop's first riff."""
    start: Fraction
    """The frame where it began, before rounding."""
    end: Fraction
    """The frame where the next pass begins, before rounding."""
    steady: bool
    """Whether it was played from the loop's first bar to its last at one tempo: only then can it be judged."""


def _shown(text: str) -> str:
    return ascii(text[:40])
