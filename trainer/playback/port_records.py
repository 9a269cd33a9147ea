"""The records that a port sink writes to its process: sixteen bytes each, carried out in order of their times.

A record is a time in nanoseconds of the system's steady clock (`time.monotonic_ns`, which all processes share; 0 means
at once), what to do, the channel inside and outside, and two numbers. Kinds below 16 are those of `event.Kind`.
"""

import struct
from enum import IntEnum
from typing import Final, NamedTuple


class PortCommand(IntEnum):
    """What a record asks for besides an event."""

    RAW = 16
    """Send a message as it is: `inside` bytes of `outside`, `one`, `two`."""
    WITHDRAW = 17
    """Forget what was written before this record, is due at its time or later and has not been carried out."""
    SILENCE = 18
    """Withdraw, and end every note on every channel."""
    RESET = 19
    """Silence, and forget what the channels were set to."""


class PortRecord(NamedTuple):
    """One record; its fields sort by time."""

    due_ns: int
    kind: int
    inside: int
    outside: int
    one: int
    two: int


RECORD_FORMAT: Final = struct.Struct("<qBBBxHH")
"""How a record lies in the pipe."""


def pack(records: list[PortRecord]) -> bytes:
    """The bytes of some records."""
    return b"".join(RECORD_FORMAT.pack(*record) for record in records)
