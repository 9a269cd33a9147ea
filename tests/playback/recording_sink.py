"""A sink on a clock that tests turn by hand: it keeps what it carries out, and knows what that does to the notes."""

from collections.abc import Sequence
from itertools import pairwise

from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event, Kind


class RecordingSink:
    """Carries out events when its clock reaches them; the clock begins at 0."""

    def __init__(self, rate: int = 48000, min_ahead: int = 1088) -> None:
        self.rate = rate
        self.min_ahead = min_ahead
        self.done: list[Event] = []
        """Everything carried out, with the frame at which that was."""
        self.late: list[Event] = []
        """Events that were handed over when their frame had passed."""
        self.prepared: list[Event] = []
        self._queue: list[Event] = []
        self._now = 0

    def now(self) -> int:
        return self._now

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        self.layout = layout
        self.prepared = list(events)
        self._queue = []

    def send(self, events: Sequence[Event]) -> None:
        assert all(a.frame <= b.frame for a, b in pairwise(events))
        for event in events:
            if event.frame <= self._now and self._now:
                self.late.append(event)
                self.done.append(event._replace(frame=self._now))
            else:
                self._queue.append(event)
        self._queue.sort(key=lambda event: event.frame)

    def withdraw(self) -> None:
        self._queue.clear()

    def silence(self) -> None:
        self.withdraw()

    def close(self) -> None:
        self.silence()

    def run_to(self, frame: int) -> None:
        """Let time pass: what is due up to half a block after `frame` is carried out, as on a synth."""
        while self._queue and self._queue[0].frame < frame + 32:
            self.done.append(self._queue.pop(0))
        self._now = max(self._now, frame)

    def of(self, *kinds: Kind) -> list[Event]:
        """What was carried out of some kinds."""
        return [event for event in self.done if event.kind in kinds]


class CuttingSink(RecordingSink):
    """A recording sink that can drop what is due from a frame on."""

    def withdraw_from(self, frame: int) -> None:
        self._queue = [event for event in self._queue if event.frame < frame]


def unmatched(events: Sequence[Event]) -> tuple[list[Event], list[Event]]:
    """Note-ons that were struck again or never ended, and ends of notes that did not sound, in the order given."""
    sounding: dict[tuple[int, int], Event] = {}
    stuck: list[Event] = []
    stray: list[Event] = []
    for event in events:
        note = (event.channel, event.one)
        if event.kind is Kind.NOTE_ON:
            if note in sounding:
                stuck.append(sounding[note])
            sounding[note] = event
        elif event.kind is Kind.NOTE_OFF and sounding.pop(note, None) is None:
            stray.append(event)
    return [*stuck, *sounding.values()], stray
