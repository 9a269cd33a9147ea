"""What one player plays in a riff: written on strings, written for the kit, or computed from another part."""

from dataclasses import dataclass
from fractions import Fraction

from trainer.music.instrument import Instrument
from trainer.music.interval import Distance
from trainer.music.note import DrumMoment, Moment
from trainer.music.pitch import Pitch


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
class PedalNote:
    """A harmony that stays on one note whatever the line does."""

    pitch: Pitch

    @classmethod
    def parse(cls, text: str) -> "PedalNote":
        """Read "pedal E3". Raises ValueError for anything else."""
        words = text.split()
        if len(words) != 2 or words[0] != "pedal":
            raise ValueError(text)
        return cls(Pitch.parse(words[1]))

    def __str__(self) -> str:
        """The words it is read from."""
        return f"pedal {self.pitch}"


def parse_distance(text: str) -> Distance | PedalNote:
    """Read "third above" or "pedal E3". Raises ValueError for anything else."""
    return PedalNote.parse(text) if text.startswith("pedal") else Distance.parse(text)


@dataclass(frozen=True, slots=True)
class HarmonyException:
    """A note of a harmony that takes an interval of its own."""

    bar: int
    """Counted from 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    distance: Distance | PedalNote


@dataclass(frozen=True, slots=True)
class HarmonyPart:
    """A part that is computed from another part and an interval."""

    name: str
    follows: str
    """The part it is computed from."""
    distance: Distance | PedalNote
    exceptions: tuple[HarmonyException, ...] = ()
    near: int | None = None
    """A fret to stay close to; None leaves the choice to the computation."""
    instrument: Instrument | None = None
    """The neck it is played on."""
    contrary: bool = False
    """It mirrors the line from the first note of each phrase, which stands at the distance."""
    within: tuple[Pitch, Pitch] | None = None
    """The lowest and the highest pitch; what lies beyond moves by octaves."""
    frets: tuple[int, int] | None = None
    """The lowest and the highest fret; open strings are exempt."""
    avoid: tuple[str, ...] = ()
    """Parts it must not clash with, and the word "chord" for the chord names."""
    leads: tuple[tuple[int, int], ...] = ()
    """Bars (first and last, from 1) in which it plays the line and the part it follows plays the answer."""


Part = TabPart | DrumPart | HarmonyPart
