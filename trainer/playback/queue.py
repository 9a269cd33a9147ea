"""What a transport has made and handed over: events waiting to be sent, and sent ones that may be taken back."""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from heapq import heappop, heappush
from typing import NamedTuple

from trainer.playback.event import Event, Kind
from trainer.playback.stretch import Stretch


class Owner(NamedTuple):
    """What an event was made for."""

    stretch: Stretch
    tone: int
    """The index of its tone; -1 for a click."""
    click: tuple[int, Fraction]
    """Bar and place of its click; `NO_CLICK` for a tone."""


class Queued(NamedTuple):
    """An event with its owner; None for events that belong to no note, such as levels."""

    event: Event
    order: int
    """Counts up, so that two entries never compare further."""
    owner: Owner | None


@dataclass(slots=True)
class Queue:
    """Events in order of time, and what is known of the notes and wheels they leave behind."""

    wheels: list[int]
    """Each channel's wheel after the fixed events."""
    sounding: dict[tuple[int, int], Owner | None] = field(default_factory=dict)
    """Channel and key of every note whose start is fixed and whose end is not."""
    _waiting: list[Queued] = field(default_factory=list)
    """A heap: to be sent when their time comes nearer."""
    _sent: deque[Queued] = field(default_factory=deque)
    """Handed over, and may be taken back."""
    _staying: list[Queued] = field(default_factory=list)
    """Handed over, fixed, and not known to be carried out: to be handed over again after a withdrawal."""
    _order: int = 0

    def put(self, events: Iterable[Event], owner: Owner | None = None) -> None:
        """Let events wait for their time to be sent."""
        for event in events:
            self._order += 1
            heappush(self._waiting, Queued(event, self._order, owner))

    def take(self, horizon: int) -> list[Event]:
        """The waiting events before a frame, in order; they count as sent from now on."""
        taken: list[Event] = []
        while self._waiting and self._waiting[0].event.frame < horizon:
            queued = heappop(self._waiting)
            self._sent.append(queued)
            taken.append(queued.event)
        if taken and len(self._sent) > len(taken) and self._sent[-len(taken) - 1].event.frame > taken[0].frame:
            self._sent = deque(sorted(self._sent))  # a change of level comes before what has been sent already
        return taken

    def forget(self, carried_out: int) -> None:
        """The events up to and at a frame have been carried out."""
        while self._sent and self._sent[0].event.frame <= carried_out:
            self._fix(self._sent.popleft())
        if self._staying:
            self._staying = [queued for queued in self._staying if queued.event.frame > carried_out]

    def cut(self, frame: int) -> tuple[list[Event], list[Event], list[Queued]]:
        """Fix everything before `frame` and take back the rest.

        Returns:
            The events that stay, in order: those handed over that may not have been carried out, and those that were
            still waiting and are to be handed over now; then everything that was taken back.
        """
        unsent = sorted(queued for queued in self._waiting if queued.event.frame < frame)
        again = sorted([*self._staying, *(queued for queued in self._sent if queued.event.frame < frame)])
        taken = sorted(queued for queued in (*self._sent, *self._waiting) if queued.event.frame >= frame)
        known = {queued.order for queued in self._staying}
        for queued in sorted([*again, *unsent]):
            if queued.order not in known:
                self._fix(queued)
        self._staying = again + unsent
        self._sent.clear()
        self._waiting.clear()
        return [queued.event for queued in again], [queued.event for queued in unsent], taken

    def _fix(self, queued: Queued) -> None:
        event, owner = queued.event, queued.owner
        if event.kind is Kind.NOTE_ON:
            self.sounding[event.channel, event.one] = owner
            if owner is not None:
                owner.stretch.begun.add(owner.tone)
        elif event.kind is Kind.NOTE_OFF:
            self.sounding.pop((event.channel, event.one), None)
        elif event.kind is Kind.BEND:
            self.wheels[event.channel] = event.one
        elif event.kind is Kind.CLICK and owner is not None:
            owner.stretch.begun_clicks.add(owner.click)
