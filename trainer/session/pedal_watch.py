"""Listening to the foot pedal while the stand is open."""

from collections.abc import Callable, Sequence
from typing import Protocol

from trainer.practice.verdict import Outcome
from trainer.session.memory import SessionMemory
from trainer.session.pedal import PEDAL, Learning, Pedal


class Source(Protocol):
    """An open MIDI input."""

    def take(self) -> Sequence["Message"]:
        """What came since the last call. Raises SourceGoneError."""

    def close(self) -> None:
        """Release it."""


class Message(Protocol):
    """One message."""

    @property
    def message(self) -> tuple[int, ...]:
        """Its bytes."""


class PedalWatch:
    """Knows the pedal, hears it, and learns another."""

    def __init__(self, memory: SessionMemory, open_input: Callable[[str], Source], tell: Callable[[str], None]) -> None:
        """Begin without a port.

        Args:
            memory: keeps the pedal that was learned.
            open_input: opens a MIDI input by its name. Raises PortError.
            tell: hears what the player shall do.
        """
        self._memory, self._open_input, self._tell = memory, open_input, tell
        self._source: Source | None = None
        self._learning: Learning | None = None
        self.pedal = memory.get(PEDAL)

    @property
    def listening(self) -> bool:
        """Whether a port is open."""
        return self._source is not None

    def begin(self) -> None:
        """Open the port of the pedal that is known, if it is there; says nothing when it is not."""
        from trainer.playback.port_names import PortError

        if self.pedal is not None and self._source is None:
            try:
                self._source = self._open_input(self.pedal.port)
            except PortError:
                self._source = None

    def learn(self, port: str) -> None:
        """Learn a pedal at a port. Raises PortError."""
        self.close()
        self._source = self._open_input(port)
        self._learning = Learning(port)
        self._tell(self._learning.ask)

    def poll(self) -> list[Outcome]:
        """What the pedal said since the last call."""
        from trainer.playback.midi_source import SourceGoneError

        if self._source is None:
            return []
        try:
            came = self._source.take()
        except SourceGoneError as gone:
            self.close()
            self._tell(f"{gone} Enter says clean, Backspace not clean.")
            return []
        meant: list[Outcome] = []
        for each in came:
            if self._learning is not None:
                self._learn_from(each.message)
            elif self.pedal is not None and (outcome := self.pedal.meaning(each.message)) is not None:
                meant.append(outcome)
        return meant

    def close(self) -> None:
        """Release the port."""
        source, self._source, self._learning = self._source, None, None
        if source is not None:
            source.close()

    def _learn_from(self, message: tuple[int, ...]) -> None:
        before = self._learning
        if before is None:
            return
        after = before.after(message)
        if isinstance(after, Pedal):
            self.pedal, self._learning = after, None
            self._memory.put(PEDAL, after)
            self._tell(f"The pedal is learned: clean is {after.clean}, missed is {after.missed or 'the key'}.")
        elif after != before:
            self._learning = after
            self._tell(after.ask)
