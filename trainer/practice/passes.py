"""One time through the loop, as the log keeps it."""

from dataclasses import dataclass
from datetime import UTC, date, datetime

from trainer.practice.line import Line
from trainer.practice.verdict import Outcome, Verdict

MOST_BARS = 100_000
"""No riff is longer."""
MOST_BPM = 2_000
"""No pass is faster: five times the fastest tempo that can be written."""
MOST_SECONDS = 1_000_000
"""No pass lasts longer: twelve days."""
FIRST, LAST = datetime(1970, 1, 1, tzinfo=UTC), datetime(9999, 1, 1, tzinfo=UTC)
"""No pass ends before or after; a local time of any zone can still be told of these."""


@dataclass(frozen=True, slots=True)
class Pass:
    """A pass that was played: what, when, how fast, and how it went.

    >>> from trainer.practice.days import practice_day
    >>> from trainer.practice.verdict import CLEAN
    >>> at = datetime(2031, 3, 1, 1, 30, tzinfo=UTC)
    >>> line = Line("iron-causeway", "Low road", "guitar 1")
    >>> played = Pass("0" * 32, at, practice_day(at), line, "a1", 1, 4, True, 96.0, 10.0, CLEAN)
    >>> played.outcome, played.day  # half past one at night belongs to the evening before
    (<Outcome.CLEAN: 'clean'>, datetime.date(2031, 2, 28))
    """

    uuid: str
    """Its name for ever, so that an import never doubles it: 32 hexadecimal digits."""
    at: datetime
    """When it ended, with a time zone; kept to the millisecond."""
    day: date
    """The player's day of practice (`practice_day` of the local time)."""
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
        if not FIRST <= self.at <= LAST:
            raise ValueError(f"no pass was played at {self.at.isoformat()}")
        if not 1 <= self.first_bar <= self.last_bar <= MOST_BARS:
            raise ValueError(f"bars {self.first_bar} to {self.last_bar} are no loop")
        if not 0 < self.tempo_bpm <= MOST_BPM:
            raise ValueError(f"{self.tempo_bpm:g} bpm is no tempo")
        if not 0 <= self.seconds <= MOST_SECONDS:
            raise ValueError(f"a pass cannot last {self.seconds:g} seconds")

    @property
    def outcome(self) -> Outcome:
        """How it went."""
        return self.verdict.outcome

    @property
    def at_ms(self) -> int:
        """When it ended: milliseconds since 1970 in UTC."""
        return round(self.at.timestamp() * 1000)
