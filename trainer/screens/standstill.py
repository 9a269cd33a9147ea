"""Telling it when nothing comes in from an open input any more, and when something does again."""

STANDSTILL_S = 2.0
"""Seconds without sound after which a pass is judged by what there is, and the player is told."""
STANDS_STILL = (
    "Nothing comes in from the input any more: the sound server stands still, or is too busy. I go on listening; if "
    "nothing comes again, press L twice to open the input anew."
)
COMES_AGAIN = "The input is heard again."


class Standstill:
    """Whether an input stands still."""

    def __init__(self) -> None:
        self._still = False

    def told(self, now: float, reach: float) -> str:
        """What to tell the player now; mostly nothing.

        Args:
            now: the moment.
            reach: up to which moment everything has come.
        """
        before, self._still = self._still, now - reach > STANDSTILL_S
        if before == self._still:
            return ""
        return STANDS_STILL if self._still else COMES_AGAIN
