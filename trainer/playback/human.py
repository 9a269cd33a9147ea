"""Two players are not one machine: seeded differences in timing and force between the guitars.

Each guitar leans ahead or behind a little for a whole pass and wavers around that from stroke to stroke; notes struck
together stay together. The spread is a house rule: well below the 30 to 49 ms measured between players of trios
(Rasch 1979) and near the 6 ms that are just noticed (Friberg & Sundberg 1995), as two guitarists who have rehearsed.
"""

from dataclasses import dataclass
from fractions import Fraction
from hashlib import blake2b

LEAN_MS = 4.0
"""The most a guitar leans ahead or behind for a pass."""
WAVER_MS = 8.0
"""The most a stroke lies beside that; the middle is likelier than the ends."""
MOST_MS = LEAN_MS + WAVER_MS
FORCE = 9
"""The most a velocity differs."""

_CLOSEST = Fraction(1, 3)
"""The share of the shortest time between two strokes that both may move by together."""


@dataclass(frozen=True, slots=True)
class Human:
    """The differences that follow from a seed; the same for the same seed, part, pass and note."""

    seed: int

    def shift_ms(self, part: str, pass_number: int, step: int, tightest: Fraction) -> float:
        """Milliseconds by which a stroke is late (early when negative).

        Args:
            part: whose stroke.
            pass_number: in which pass.
            step: where it is written.
            tightest: seconds between the part's two closest strokes at this tempo; no stroke overtakes another.
        """
        lean = _spread(self.seed, part, pass_number, "lean")[0] * LEAN_MS
        first, second, _ = _spread(self.seed, part, pass_number, step)
        most = self.most_ms(tightest)
        return (lean + (first + second) / 2 * WAVER_MS) * most / MOST_MS

    @staticmethod
    def most_ms(tightest: Fraction) -> float:
        """The most a stroke can be early or late."""
        return min(MOST_MS, float(tightest * 1000 * _CLOSEST))

    def force(self, part: str, pass_number: int, step: int, string: int) -> int:
        """What is added to the velocity of a note."""
        return round(_spread(self.seed, part, pass_number, (step, string))[2] * FORCE)


def _spread(*what: object) -> tuple[float, float, float]:
    """Three numbers between -1 and 1 that depend on nothing but the arguments."""
    digest = blake2b(repr(what).encode(), digest_size=12).digest()
    first, second, third = (int.from_bytes(digest[i : i + 4], "big") / (1 << 31) - 1 for i in (0, 4, 8))
    return first, second, third
