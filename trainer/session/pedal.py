"""Foot pedals: which MIDI message means clean and which missed, learned by pressing."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple, Self

from trainer.practice.verdict import Outcome
from trainer.session.memory import MemoryKey


class Press(StrEnum):
    """The kinds of message a pedal may send."""

    NOTE = "note"
    CONTROL = "controller"
    PROGRAM = "program"


_KINDS = {0x90: Press.NOTE, 0xB0: Press.CONTROL, 0xC0: Press.PROGRAM}


class Switch(NamedTuple):
    """One switch of a pedal."""

    kind: Press
    channel: int
    """0 to 15."""
    number: int
    """The note, controller or program."""

    @classmethod
    def of(cls, message: Sequence[int]) -> Self | None:
        """The switch that a message says was pressed; None for a release, and for anything else."""
        if not message or (message[0] & 0xF0) not in _KINDS or len(message) < 2:
            return None
        kind = _KINDS[message[0] & 0xF0]
        if kind is Press.NOTE and (len(message) < 3 or message[2] == 0):
            return None
        if kind is Press.CONTROL and (len(message) < 3 or message[2] < 64):
            return None
        return cls(kind, message[0] & 0x0F, message[1])

    def __str__(self) -> str:
        """In words."""
        return f"{self.kind} {self.number} on channel {self.channel + 1}"


@dataclass(frozen=True, slots=True)
class Pedal:
    """A pedal that was learned."""

    port: str
    clean: Switch
    missed: Switch | None = None

    def meaning(self, message: Sequence[int]) -> Outcome | None:
        """What a message says of the pass; None for nothing."""
        switch = Switch.of(message)
        if switch is None:
            return None
        return {self.clean: Outcome.CLEAN, self.missed: Outcome.MISSED}.get(switch)


PEDAL: MemoryKey[Pedal | None] = MemoryKey("pedal", None, Pedal)
"""The pedal that was learned."""


@dataclass(frozen=True, slots=True)
class Learning:
    """A pedal that is being learned: first the switch for clean, then the one for missed."""

    port: str
    clean: Switch | None = None

    @property
    def ask(self) -> str:
        """What to tell the player."""
        if self.clean is None:
            return "Press the pedal that shall mean: clean."
        return f"Clean is {self.clean}. Now press the one that shall mean: missed (or the same again for none)."

    def after(self, message: Sequence[int]) -> "Learning | Pedal":
        """The next step: still learning, or the pedal."""
        switch = Switch.of(message)
        if switch is None:
            return self
        if self.clean is None:
            return Learning(self.port, switch)
        return Pedal(self.port, self.clean, None if switch == self.clean else switch)
