"""What one player plays in a riff: written on strings, written for the kit, or computed from another part."""

from dataclasses import dataclass
from fractions import Fraction

from trainer.music.instrument import Instrument
from trainer.music.interval import Distance
from trainer.music.note import DrumMoment, Moment


@dataclass(frozen=True, slots=True)
class PartSettings:
    """What the front matter says of a part for the whole exercise."""

    name: str
    patch: str = ""
    """The patch's name; empty for the one that the part's name suggests."""
    tuning: tuple[str, ...] = ()
    """Open strings, low to high; empty for the exercise's tuning."""
    capo: int = 0
    frets: int = 24
    level_db: float = 0.0
    """Added to the patch's level."""
    pan: float | None = None
    """-1 (left) to 1 (right); None for the patch's own."""


@dataclass(frozen=True, slots=True)
class TabPart:
    """A part written on strings."""

    name: str
    instrument: Instrument
    bars: tuple[tuple[Moment, ...], ...]
    """For each bar its moments in order of time."""


@dataclass(frozen=True, slots=True)
class DrumPart:
    """A part written for the kit."""

    name: str
    bars: tuple[tuple[DrumMoment, ...], ...]
    """For each bar its moments in order of time."""


@dataclass(frozen=True, slots=True)
class HarmonyException:
    """A note of a harmony that takes an interval of its own."""

    bar: int
    """Counted from 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    distance: Distance


@dataclass(frozen=True, slots=True)
class HarmonyPart:
    """A part that is computed from another part and an interval."""

    name: str
    follows: str
    """The part it is computed from."""
    distance: Distance
    exceptions: tuple[HarmonyException, ...] = ()
    near: int | None = None
    """A fret to stay close to; None leaves the choice to the computation."""
    instrument: Instrument | None = None
    """The neck it is played on."""


Part = TabPart | DrumPart | HarmonyPart
