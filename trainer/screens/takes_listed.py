"""Which kept takes are listed: whose they are, and finding them newest first without waiting for all of them."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.listening.takes import KeptTake, Takes
    from trainer.practice.line import Line

FIRST, MORE = 40, 500
"""Takes that are looked into before the first ones are shown, and before more are."""


class Whose(Enum):
    """Whose takes."""

    LINE = "this riff and part"
    EXERCISE = "this exercise"
    ALL = "every exercise"

    @property
    def told(self) -> tuple[str, ...]:
        """What was kept about a take that tells it from the others."""
        return {Whose.LINE: (), Whose.EXERCISE: ("riff", "part"), Whose.ALL: ("exercise", "riff", "part")}[self]


@dataclass(frozen=True, slots=True)
class TakeSearch:
    """Which takes are wanted."""

    whose: Whose
    line: "Line"

    def fits(self, take: "KeptTake") -> bool:
        """Whether a take is one of them."""
        if self.whose is Whose.ALL:
            return True
        line = self.line
        if take.info.exercise != line.exercise:
            return False
        return self.whose is Whose.EXERCISE or (take.info.riff, take.info.part) == (line.riff, line.part)


def found(takes: "Takes", wanted: TakeSearch, stopped: Callable[[], bool]) -> "Iterator[list[KeptTake]]":
    """The takes that are wanted, the newest first, some at a time."""
    batch: list[KeptTake] = []
    for number, name in enumerate(takes.names(), 1):
        if stopped():
            return
        take = takes.take(name)
        if take is not None and wanted.fits(take):
            batch.append(take)
        if batch and (number == FIRST or number % MORE == 0):
            yield batch
            batch = []
    yield batch


def earlier(takes: "list[KeptTake]", of: int) -> "list[KeptTake]":
    """The takes before the one with this index that can be compared with it: the same music, judged."""
    info = takes[of].info
    same = (info.exercise, info.riff, info.part)
    return [
        each for each in takes[of + 1 :]
        if each.verdict is not None and (each.info.exercise, each.info.riff, each.info.part) == same
    ]  # fmt: skip
