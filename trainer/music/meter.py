"""Meter: how many counts a bar has, how long each is, and what the foot taps."""

from dataclasses import dataclass
from fractions import Fraction

UNITS = (1, 2, 4, 8, 16, 32)
"""Note values a meter may count."""
MOST_COUNTS = 32
"""Counts a bar may have."""


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature, such as 4/4 or 12/8. Lengths are in whole notes.

    >>> Meter(7, 8).length
    Fraction(7, 8)
    >>> Meter(12, 8).pulse  # a dotted quarter
    Fraction(3, 8)
    """

    counts: int
    """Counts in a bar: the upper number, 1 to 32."""
    unit: int
    """The note value counted: the lower number, one of `UNITS`."""

    @classmethod
    def parse(cls, text: str) -> "Meter":
        """Read "7/8". Raises ValueError for anything else."""
        upper, slash, lower = text.strip().partition("/")
        numbers = [word for word in (upper, lower) if word.isascii() and word.isdigit() and len(word) <= 2]
        if not slash or len(numbers) != 2 or not 1 <= int(upper) <= MOST_COUNTS or int(lower) not in UNITS:
            raise ValueError(text)
        return cls(int(upper), int(lower))

    @property
    def length(self) -> Fraction:
        """Length of a bar, in whole notes."""
        return Fraction(self.counts, self.unit)

    @property
    def count_length(self) -> Fraction:
        """Length of one count, in whole notes."""
        return Fraction(1, self.unit)

    @property
    def compound(self) -> bool:
        """Whether counts go in threes under one pulse: 6/8, 9/8, 12/8 and their like in sixteenths."""
        return self.unit >= 8 and self.counts > 3 and self.counts % 3 == 0

    @property
    def pulse(self) -> Fraction:
        """What a tempo counts, in whole notes: a dotted count in compound meters, else a quarter or a longer unit."""
        if self.compound:
            return Fraction(3, self.unit)
        return Fraction(1, min(self.unit, 4))

    def __str__(self) -> str:
        """As it is written: "7/8"."""
        return f"{self.counts}/{self.unit}"
