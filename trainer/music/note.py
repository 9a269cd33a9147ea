"""What is played at one count: notes on strings, or hits on a kit, with the marks that apply to them."""

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction


class Attack(Enum):
    """How a note is started; the value is the mark before its fret."""

    PICK = ""
    HAMMER = "h"
    PULL = "p"
    SLIDE_UP = "/"
    SLIDE_DOWN = "\\"
    TAP = "t"


class Touch(Enum):
    """What the fretting hand does to the string."""

    FRETTED = "fretted"
    DEAD = "dead"
    HARMONIC = "harmonic"


@dataclass(frozen=True, slots=True)
class Note:
    """One string played at one count.

    >>> Note(string=2, fret=8, bend=10).attack  # the eighth fret, picked, bent to the tenth fret's pitch
    <Attack.PICK: ''>
    """

    string: int
    """1 is the thinnest."""
    fret: int
    """0 is the open string; the fret touched for a harmonic; 0 for a dead note."""
    attack: Attack = Attack.PICK
    touch: Touch = Touch.FRETTED
    bend: int | None = None
    """The fret whose pitch the bend reaches."""
    release: int | None = None
    """The fret whose pitch the bend is let down to; None when it is held."""
    vibrato: bool = False
    short: bool = False
    finger: str = ""
    """The fretting finger, "1" to "4" or "T"; empty when the file does not say."""


@dataclass(frozen=True, slots=True)
class Moment:
    """What one part starts at one count of a bar."""

    offset: Fraction
    """Whole notes from the bar's start."""
    notes: tuple[Note, ...] = ()
    """Thinnest string first. Empty for a rest, or where only a chord name stands."""
    rest: bool = False
    """The part is silent from here until its next note."""
    mute: bool = False
    """Palm mute."""
    ring: bool = False
    """Let ring."""
    accent: str = ""
    """">", "^" (stronger) or empty."""
    pick: str = ""
    """The stroke: "d" down, "u" up, or empty when the file does not say."""
    chord: str = ""
    """A chord name that stands here."""


class Force(Enum):
    """How a drum is struck; the value is its mark."""

    NORMAL = "x"
    ACCENT = "X"
    GHOST = "o"


KIT = ("kick", "snare", "hat", "open", "ride", "bell", "crash", "tom 1", "tom 2", "tom 3", "tom 4")
"""The pieces of the kit, in the order in which their rows are written from the bottom."""


@dataclass(frozen=True, slots=True)
class Hit:
    """One piece of the kit struck."""

    piece: str
    """One of `KIT`."""
    force: Force = Force.NORMAL


@dataclass(frozen=True, slots=True)
class DrumMoment:
    """What the drums strike at one count of a bar."""

    offset: Fraction
    """Whole notes from the bar's start."""
    hits: tuple[Hit, ...]
    """In the order of `KIT`."""
