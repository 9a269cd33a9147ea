"""One timed instruction to a sink: what the timeline compiles music into.

Times are whole audio frames on the sink's clock, rounded once from an exact value. An event is a tuple, so a list of
them sorts by its declared fields: frame first, then `Kind` in its stated order, then channel and values. At one frame a
note's end comes before everything that prepares the next note, and the next note's start comes last.
"""

from enum import IntEnum
from typing import NamedTuple


class Kind(IntEnum):
    """What an event does; the numbers are the order in which events of one frame are carried out."""

    NOTE_OFF = 0
    """`one` is the MIDI key; `two` is 0."""
    PROGRAM = 1
    """`one` is the program (0 to 127), `two` the bank (0 to 16383)."""
    CONTROL = 2
    """`one` is the controller (0 to 127), `two` its value (0 to 127)."""
    BEND = 3
    """`one` is the 14-bit wheel value, 0 to 16383, 8192 at rest; `two` is 0."""
    NOTE_ON = 4
    """`one` is the MIDI key, `two` the velocity, 1 to 127."""
    CLICK = 5
    """`one` is 1 for an accented click, 0 for a plain one; `two` the velocity, 1 to 127."""


class Event(NamedTuple):
    """What happens at one frame on one of the synth's channels (0 to 255)."""

    frame: int
    kind: Kind
    channel: int
    one: int
    two: int
