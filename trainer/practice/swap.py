"""Swap: my part and the other guitar's trade places, by hand or every so many passes, so that both are learned."""

from dataclasses import dataclass, replace
from typing import Self


@dataclass(frozen=True, slots=True)
class Swap:
    """Whose part is mine."""

    mine: str
    other: str
    every: int = 0
    """Trade places after so many passes; 0: only by hand."""
    played: int = 0
    """Passes since the last trade."""

    def __post_init__(self) -> None:
        """Raise ValueError for one part only, or a negative number of passes."""
        if self.mine == self.other or self.every < 0:
            raise ValueError("a swap needs two parts, and a number of passes that is not below zero")

    def traded(self) -> Self:
        """The two parts the other way round."""
        return replace(self, mine=self.other, other=self.mine, played=0)

    def after_pass(self) -> Self:
        """The parts for the next pass; every pass counts, judged or not."""
        counted = replace(self, played=self.played + 1)
        return counted.traded() if self.every and counted.played >= self.every else counted
