"""The sink for an outside MIDI port: a small process of its own keeps the time, this hands it batches of events.

Its clock is the system's steady clock, counted in frames from the sink's opening, which both processes share. Events
are folded to one MIDI channel for each part (`Channel.outside`). Besides events it sends raw messages at a frame: MIDI
clock, start, stop, continue and song position are the transport's to compute.
"""

import contextlib
import threading
import time
from collections.abc import Callable, Sequence
from typing import Final

from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.midi_ports import AUTOMATIC
from trainer.playback.port_link import PortLink
from trainer.playback.port_records import PortCommand, PortRecord, pack
from trainer.playback.sink import SinkGoneError
from trainer.playback.synth_sink import ClickKeys

RATE: Final = 48000
"""Frames a second of the sink's clock."""

AHEAD: Final = RATE // 100
"""A batch takes under a millisecond to the other process; ten leave room for a busy machine."""

ASLEEP_NS: Final = 2_000_000_000
"""So long without a look at the clock means that the program slept: a transport looks every 20 ms."""

AWAKE_NS: Final = 250_000_000
"""What of that counts: as far as a transport has handed over, its events have been carried out."""

WOOD_BLOCKS: Final = ClickKeys(plain=77, accented=76)
"""General MIDI's low and high wood block: every outside drum kit has them; it may lack a metronome."""


class PortSink:
    """Sends events to a MIDI port, existing or virtual."""

    def __init__(
        self,
        name: str,
        system: str = AUTOMATIC,
        *,
        virtual: bool = False,
        click: ClickKeys = WOOD_BLOCKS,
        options: Sequence[str] = (),
        clock_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        """Open the port.

        Args:
            name: the port's name, or a part of it that no other port's name has; for a virtual port, its new name.
            system: one of `midi_ports.midi_systems()`, or "auto" for every one.
            virtual: whether to make a new port that others connect to.
            click: the keys of the click on its channel.
            options: more options for the process (`python -m trainer.playback.port_process --help`), for measuring.
            clock_ns: the system's steady clock in nanoseconds.

        Raises:
            PortError: there is no such port, or it cannot be opened.
        """
        self._clock_ns = clock_ns
        self._click = click
        self._lock = threading.RLock()
        self._outside: tuple[int, ...] = ()
        self._link = PortLink(name, system, virtual, options)
        self._closed = False
        self._origin_ns = self._looked_ns = clock_ns()

    @property
    def rate(self) -> int:
        """Frames a second."""
        return RATE

    @property
    def min_ahead(self) -> int:
        """Ten milliseconds."""
        return AHEAD

    @property
    def port(self) -> str:
        """The name of the port that was opened."""
        return self._link.port

    def now(self) -> int:
        """The frame by the system's steady clock, without the time that the program slept. Raises SinkGoneError.

        So nothing that was missed in a sleep (Ctrl-Z) is sent at once after it, and no pass is counted in it.
        """
        with self._lock:
            now = self._clock_ns()
            if now - self._looked_ns > ASLEEP_NS:
                self._origin_ns += now - self._looked_ns - AWAKE_NS
            self._looked_ns = now
            self._link.check()
            return (now - self._origin_ns) * RATE // 1_000_000_000

    def _write(self, records: list[PortRecord]) -> None:
        self._link.write(pack(records))

    def _due_ns(self, frame: int) -> int:
        return self._origin_ns + frame * 1_000_000_000 // RATE

    def _record(self, event: Event, due_ns: int) -> PortRecord:
        outside = self._outside[event.channel]
        if event.kind is Kind.CLICK:
            key = self._click.accented if event.one else self._click.plain
            return PortRecord(due_ns, Kind.CLICK, event.channel, outside, key, event.two)
        return PortRecord(due_ns, event.kind, event.channel, outside, event.one, event.two)

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        """Silence everything, fold as `layout` says from now on, and send `events` at once. Raises SinkGoneError."""
        with self._lock:
            self._outside = tuple(channel.outside for channel in layout.channels)
            reset = PortRecord(0, PortCommand.RESET, 0, 0, 0, 0)
            self._write([reset, *(self._record(event, 0) for event in events)])

    def send(self, events: Sequence[Event]) -> None:
        """Queue events; of one frame, in the order given. Raises SinkGoneError."""
        with self._lock:
            self._write([self._record(event, self._due_ns(event.frame)) for event in events])

    def send_raw(self, messages: Sequence[tuple[int, bytes]]) -> None:
        """Queue messages of one to three bytes at their frames, sorted, as they are: clock, start, song position.

        They are withdrawn like events. Raises SinkGoneError.
        """
        with self._lock:
            records = []
            for frame, message in messages:
                padded = message.ljust(3, b"\0")
                records.append(PortRecord(self._due_ns(frame), PortCommand.RAW, len(message), *padded))
            self._write(records)

    def withdraw(self) -> None:
        """Drop what is queued. Raises SinkGoneError."""
        with self._lock:
            self._write([PortRecord(0, PortCommand.WITHDRAW, 0, 0, 0, 0)])

    def withdraw_from(self, frame: int) -> None:
        """Drop what is queued for a frame or later, and touch nothing that is due before. Raises SinkGoneError."""
        with self._lock:
            self._write([PortRecord(self._due_ns(frame), PortCommand.WITHDRAW, 0, 0, 0, 0)])

    def silence(self) -> None:
        """Withdraw, and end every note on every channel."""
        with self._lock, contextlib.suppress(SinkGoneError):
            self._write([PortRecord(0, PortCommand.SILENCE, 0, 0, 0, 0)])

    def close(self) -> None:
        """End every note, and the process with the port."""
        with self._lock:
            if not self._closed:
                self._closed = True
                self._link.close()
