"""When a break is offered: after a set time of play, five minutes in every half hour."""

from dataclasses import dataclass, replace
from typing import Self

PLAY_SECONDS = 25 * 60.0
"""The usual advice: five minutes off in every 25 to 30 (sources with `cautions`)."""
REST_SECONDS = 5 * 60.0
"""An uninterrupted rest of so long counts as the break."""
LATER_SECONDS = 5 * 60.0
"""Put off, it is offered again after so much more play."""


@dataclass(frozen=True, slots=True)
class BreakWatch:
    """How long the player has been playing. Time comes in from outside."""

    play_seconds: float = PLAY_SECONDS
    """Offer a break after so much play."""
    played: float = 0.0
    """Seconds played since the last break."""
    rested: float = 0.0
    """Seconds of rest since the last play."""
    put_off: float = 0.0
    """Seconds by which the player put the break off."""

    @property
    def due(self) -> bool:
        """Whether to offer a break, at the end of the pass."""
        return self.played >= self.play_seconds + self.put_off

    def after_play(self, seconds: float) -> Self:
        """So much was played."""
        return replace(self, played=self.played + seconds, rested=0.0)

    def after_rest(self, seconds: float) -> Self:
        """Nothing was played for so long; enough of it is a break, whether offered or not."""
        rested = self.rested + seconds
        return type(self)(self.play_seconds) if rested >= REST_SECONDS else replace(self, rested=rested)

    def later(self) -> Self:
        """The player puts the offered break off."""
        return replace(self, put_off=self.played - self.play_seconds + LATER_SECONDS) if self.due else self
