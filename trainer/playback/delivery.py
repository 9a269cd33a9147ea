"""Handing events to a sink ahead of its clock, and taking back what it has not carried out."""

from fractions import Fraction
from math import ceil

from trainer.playback.midi_clock import MidiClock
from trainer.playback.queue import Queued
from trainer.playback.schedule import Schedule
from trainer.playback.sink import CutsAtFrame, Sink, TakesMessages
from trainer.playback.stretch import Stretch

HALF_BLOCK = 31
"""Frames after its clock that a sink which cannot cut at a frame has carried out already: the synth rounds to the
nearest block of 64, and a port's process fires what is due before it reads that it was withdrawn."""


class Delivery:
    """Between a schedule and a sink."""

    def __init__(self, sink: Sink, schedule: Schedule, ahead_seconds: Fraction, clock: MidiClock | None) -> None:
        """Nothing is handed over yet.

        Args:
            sink: where events go.
            schedule: what makes them.
            ahead_seconds: how far ahead of the sink's clock they are handed over, beyond what the sink needs.
            clock: makes messages for outside machines; they are sent when the sink takes any.
        """
        self._sink = sink
        self._schedule = schedule
        self._ahead = sink.min_ahead + ceil(ahead_seconds * sink.rate)
        self._messages = sink if clock is not None and isinstance(sink, TakesMessages) else None
        schedule.midi_clock = clock if self._messages is not None else None
        self._floor = 0

    def now(self) -> int:
        """The sink's clock. Raises SinkGoneError."""
        return self._sink.now()

    def earliest(self) -> int:
        """The earliest frame that the sink can still serve. Raises SinkGoneError."""
        return max(self._sink.now() + self._sink.min_ahead, self._floor)

    def forget(self, carried_out: int) -> None:
        """What was due up to and at a frame has been carried out."""
        self._schedule.forget(carried_out)
        if self._schedule.midi_clock:
            self._schedule.midi_clock.forget(carried_out)

    def hand_over(self) -> None:
        """Hand over everything up to the look-ahead. Raises SinkGoneError."""
        horizon = self._sink.now() + self._ahead
        self._schedule.fill(horizon)
        events = self._schedule.take(horizon)
        if events:
            self._sink.send(events)
        if self._messages and self._schedule.midi_clock:
            messages = self._schedule.midi_clock.take(horizon)
            if messages:
                self._messages.send_raw(messages)

    def cut(self) -> tuple[int, Stretch, list[Queued]]:
        """Withdraw what is not fixed.

        Returns:
            The frame from which on everything is made anew, what plays there, and what was taken back.
        """
        exact = self._sink if isinstance(self._sink, CutsAtFrame) else None
        if exact is None:
            self._sink.withdraw()
        now = self._sink.now()
        self._floor = max(self._floor, now + self._sink.min_ahead)
        if exact is not None:
            exact.withdraw_from(self._floor)
        carried_out = now - 1 if exact else now + HALF_BLOCK
        self._schedule.forget(carried_out)
        again, unsent, taken = self._schedule.cut(self._floor)
        events = unsent if exact else sorted(again + unsent)
        if events:
            self._sink.send(events)
        stretch, clock = self._schedule.stretches[-1], self._schedule.midi_clock
        if self._messages and clock:
            clock.forget(carried_out)
            told, untold = clock.cut(self._floor, stretch)
            messages = untold if exact else told + untold
            if messages:
                self._messages.send_raw(messages)
        return self._floor, stretch, taken
