"""The one interface of everything that sounds: synth, MIDI port, MIDI file, audio file.

A sink has a clock of its own that counts audio frames from its opening. It receives events with absolute times on that
clock, in batches, ahead of time, and carries them out when their time comes without help from the caller.
"""

from collections.abc import Sequence
from typing import Protocol, runtime_checkable

from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event


class SinkGoneError(Exception):
    """The device or port behind a sink is no longer there; its text is a plain sentence for the player."""


class Sink(Protocol):
    """Where timed events go."""

    @property
    def rate(self) -> int:
        """Frames a second of this sink's clock."""

    @property
    def min_ahead(self) -> int:
        """Frames between `now` and the earliest frame an event can still be given for and be on time."""

    def now(self) -> int:
        """The frame that is being carried out now; never goes back. Raises SinkGoneError."""

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        """Make the sink ready for a layout: silence everything, reset its channels, carry out `events` at once.

        The events are programs, bend ranges and levels; their frames are ignored. Raises SinkGoneError.
        """

    def send(self, events: Sequence[Event]) -> None:
        """Queue events, sorted by time. An event whose frame is past is carried out at once. Raises SinkGoneError."""

    def withdraw(self) -> None:
        """Drop every queued event that has not been carried out; what sounds goes on sounding. Raises SinkGoneError."""

    def silence(self) -> None:
        """Withdraw, and end every sounding note at once. Never raises."""

    def close(self) -> None:
        """Silence and release the device. May be called twice. Never raises."""


@runtime_checkable
class CutsAtFrame(Protocol):
    """A sink that can leave in place what is due before a frame and drop the rest.

    Then nothing has to be handed over twice, and no event is in doubt because it was due while it was withdrawn.
    """

    def withdraw_from(self, frame: int) -> None:
        """Drop every queued event whose frame is `frame` or later. Raises SinkGoneError."""


@runtime_checkable
class TakesMessages(Protocol):
    """A sink that also sends MIDI messages that belong to no channel: clock, start, stop, song position."""

    def send_raw(self, messages: Sequence[tuple[int, bytes]]) -> None:
        """Queue messages at their frames, sorted; they are withdrawn like events. Raises SinkGoneError."""
