"""How late sound comes in, as the passes themselves tell it where calibration does not."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.screens.known_late import Known

EARLIEST_S, LATEST_S = -0.15, 0.4
"""How early and how late sound may come in."""


class FoundLate:
    """What the passes so far have told."""

    def __init__(self) -> None:
        self._seconds = 0.0
        self._told = False

    def of(self, known: "Known | None") -> float:
        """Seconds by which what is played comes in late, where calibration knows that or not."""
        return self._seconds if known is None else known.late_s

    def told(self, known: "Known | None") -> bool:
        """Whether that is more than a guess."""
        return self._told or known is not None

    def guesses(self, known: "Known | None") -> Sequence[float] | None:
        """By how many seconds it may be wrong, to be tried; None for the usual."""
        return (0.0,) if self._told and known is None else None

    def tell(self, seconds: float) -> None:
        """A pass came in so late: the next one is looked for as late as that."""
        self._seconds, self._told = min(max(seconds, EARLIEST_S), LATEST_S), True

    def forget(self) -> None:
        """A pass could not be followed: nothing is told any more."""
        self._seconds, self._told = 0.0, False
