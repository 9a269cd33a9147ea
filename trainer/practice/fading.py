"""The fading guide: my part is played along for me, quieter with every clean pass, and comes back when I miss."""

from dataclasses import dataclass, replace
from typing import Self

from trainer.practice.verdict import Outcome

FALL_DB = 4.0
"""House rule: clearly quieter, yet seven clean passes until the guide is gone."""
SILENT_DB = -28.0
"""House rule: under this the guide is switched off; beside two guitars and drums it is not heard any more."""


@dataclass(frozen=True, slots=True)
class FadingGuide:
    """How loud my part's guide is."""

    level_db: float = 0.0
    """0 is the part's own level; never above."""
    fall_db: float = FALL_DB
    """How much quieter after a clean pass."""
    rise_db: float | None = None
    """How much louder after a missed one; None: back to its full level at once."""

    @property
    def gain(self) -> float:
        """What to multiply the part's level with: 1.0 at first, 0.0 when the guide is gone."""
        return 0.0 if self.level_db <= SILENT_DB else 10 ** (self.level_db / 20)

    def after(self, outcome: Outcome) -> Self:
        """The guide for the next pass."""
        if outcome is Outcome.CLEAN:
            return replace(self, level_db=max(self.level_db - self.fall_db, SILENT_DB))
        if outcome is Outcome.MISSED:
            return replace(self, level_db=0.0 if self.rise_db is None else min(0.0, self.level_db + self.rise_db))
        return self
