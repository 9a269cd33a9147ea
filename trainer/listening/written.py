"""What a take is compared with: the strokes a part asks for, each with its time, pitches and name.

Times count in seconds from the start of the pass and are exact fractions, so that a MIDI take can be judged to the
tick. A chord is one stroke. The names (`bar`, `count`, `figure`, `pick`) are what sentences are made of.
"""

from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction


class GallopNote(Enum):
    """Where a stroke stands in a gallop, straight or in triplet time, forward or reverse."""

    NONE = ""
    LONG = "eighth"
    FIRST_SHORT = "first sixteenth"
    SECOND_SHORT = "second sixteenth"
    TRIPLET_LONG = "long note"
    TRIPLET_FIRST = "first short note"
    TRIPLET_SECOND = "second short note"

    @property
    def is_long(self) -> bool:
        """Whether it is the long one of the three."""
        return self in {GallopNote.LONG, GallopNote.TRIPLET_LONG}

    @property
    def is_first(self) -> bool:
        """Whether it is the first of the two short ones."""
        return self in {GallopNote.FIRST_SHORT, GallopNote.TRIPLET_FIRST}

    @property
    def is_second(self) -> bool:
        """Whether it is the second of the two short ones."""
        return self in {GallopNote.SECOND_SHORT, GallopNote.TRIPLET_SECOND}


@dataclass(frozen=True, slots=True)
class WrittenStroke:
    """One attack that the part asks for."""

    at: Fraction
    """Seconds from the start of the pass."""
    length: Fraction
    """Seconds it is to sound."""
    pitches: tuple[int, ...]
    """MIDI note numbers, low to high; empty for a dead note."""
    bar: int = 1
    """Counted from 1, as the riff's bars are."""
    count: str = ""
    """As counted aloud: `1`, `2 &`, `3 e`."""
    slurred: bool = False
    """Hammered, pulled, tapped or slid: there may be no attack to hear, only a new pitch."""
    pick: str = ""
    """`down`, `up`, or empty when nobody wrote or computed it."""
    figure: GallopNote = GallopNote.NONE
    strings: tuple[int, ...] = ()
    """String numbers, 1 the thinnest, in the order of `pitches`; empty when unknown."""
    muted: bool = False
    """Palm-muted: its pitch is checked, its sound is not graded."""
    dead: bool = False
    """A percussive stroke without pitch."""
    bent: bool = False
    """Bent or released: its pitch is told in cents and not graded."""
    string_change: bool = False
    """It is played on other strings than the stroke before."""
    shift: bool = False
    """The fretting hand moves to another position for it."""
    offset: Fraction = Fraction(0)
    """Whole notes from the start of the pass."""

    def __post_init__(self) -> None:
        if self.at < 0 or self.length < 0:
            raise ValueError("A stroke's time and length cannot be negative.")
        if not self.pitches and not self.dead:
            raise ValueError("A stroke without pitches must be a dead note.")
        if any(not 0 <= pitch <= 127 for pitch in self.pitches):
            raise ValueError("A MIDI note number lies between 0 and 127.")

    @property
    def place(self) -> str:
        """How a sentence names it: `bar 3, count 2 &`."""
        return f"bar {self.bar}, count {self.count}" if self.count else f"bar {self.bar}"


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """The strokes of one pass, in time order.

    >>> eighth = Fraction(1, 4)  # of a second, at 120 bpm
    >>> part = WrittenPart(tuple(WrittenStroke(n * eighth, eighth, (40,)) for n in range(8)), length=8 * eighth)
    >>> part.repeated(2).length
    Fraction(4, 1)
    """

    strokes: tuple[WrittenStroke, ...]
    length: Fraction
    """Seconds from the start of the pass to the end of its last bar."""
    tempo_bpm: float = 120.0
    """Beats per minute at the start, for the next action."""
    others: tuple[tuple[str, tuple[WrittenStroke, ...]], ...] = ()
    """What the other pitched parts play meanwhile, by part name: a wrong note may be the other guitar's line."""
    opens: tuple[int, ...] = ()
    """MIDI notes of the open strings, the thinnest first, where known: a wrong note may be one string over."""

    def __post_init__(self) -> None:
        if not self.strokes:
            raise ValueError("There is nothing written to compare with.")
        if any(a.at >= b.at for a, b in zip(self.strokes, self.strokes[1:], strict=False)):
            raise ValueError("Strokes must be in time order, one for each time.")

    @property
    def bars(self) -> int:
        """The number of the last bar that has a stroke."""
        return max(stroke.bar for stroke in self.strokes)

    def repeated(self, passes: int) -> "WrittenPart":
        """The same part played `passes` times without a break, for a take that holds several passes."""
        if passes < 1:
            raise ValueError("A take holds at least one pass.")

        def again(strokes: tuple[WrittenStroke, ...]) -> tuple[WrittenStroke, ...]:
            return tuple(
                replace(stroke, at=stroke.at + turn * self.length) for turn in range(passes) for stroke in strokes
            )

        others = tuple((name, again(strokes)) for name, strokes in self.others)
        return replace(self, strokes=again(self.strokes), length=self.length * passes, others=others)
