"""What is practised and recorded: one part of one riff of one exercise."""

from typing import NamedTuple


class Line(NamedTuple):
    """One player's line through one riff. Known by names, so a moved or renamed file keeps its record."""

    exercise: str
    """The exercise's id."""
    riff: str
    """The riff's heading; empty for the whole form."""
    part: str
    """The part's name, as "guitar 1"."""

    def is_twin_of(self, other: "Line") -> bool:
        """Whether the two are different parts of one riff: a lead and its harmony."""
        return self[:2] == other[:2] and self.part != other.part
