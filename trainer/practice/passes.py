"""One time through the loop, as the log keeps it."""

import math
from dataclasses import dataclass
from datetime import date, datetime

from trainer.practice.line import Line
from trainer.practice.verdict import Outcome, Verdict

MOST_BARS = 100_000
"""No riff is longer."""


@dataclass(frozen=True, slots=True)
class Pass:
    """A pass that was played: what, when, how fast, and how it went."""

    uuid: str
    """Its name for ever, so that an import never doubles it: 32 hexadecimal digits."""
    at: datetime
    """When it ended, with a time zone; kept to the millisecond."""
    day: date
    """The player's day of practice (`days.practice_day` of the local time)."""
    line: Line
    digest: str
    """Digest of the riff's content as it was played; a new one says that the riff was changed."""
    first_bar: int
    """First bar of the loop, counted from 1."""
    last_bar: int
    """Last bar of the loop, included."""
    whole: bool
    """Whether the loop was the whole riff; only whole passes make a best tempo."""
    tempo_bpm: float
    """The tempo the pass was played at."""
    seconds: float
    """How long it lasted."""
    verdict: Verdict
    way: str = ""
    """How the loop was practised: "ladder", "building", "burst", "form" …; empty for plain looping."""

    def __post_init__(self) -> None:
        """Raise ValueError for a moment without a time zone, or figures that cannot be."""
        if len(self.uuid) != 32 or set(self.uuid) - set("0123456789abcdef"):
            raise ValueError("a pass's uuid is 32 hexadecimal digits in lower case")
        if self.at.tzinfo is None:
            raise ValueError("the moment of a pass needs a time zone")
        if not 1 <= self.first_bar <= self.last_bar <= MOST_BARS:
            raise ValueError(f"bars {self.first_bar} to {self.last_bar} are no loop")
        if not (math.isfinite(self.tempo_bpm) and self.tempo_bpm > 0):
            raise ValueError(f"{self.tempo_bpm} bpm is no tempo")
        if not (math.isfinite(self.seconds) and self.seconds >= 0):
            raise ValueError(f"a pass cannot last {self.seconds} seconds")

    @property
    def outcome(self) -> Outcome:
        """How it went."""
        return self.verdict.outcome

    @property
    def at_ms(self) -> int:
        """When it ended: milliseconds since 1970 in UTC."""
        return round(self.at.timestamp() * 1000)
