"""What waits in FluidSynth's sequencer, in order, and can be taken out of it again from any frame on.

The sequencer removes events by their source (`fluid_sequencer_remove_events`), the number of a registered client, and
not by time. So the events of each frame get a source of their own, a *group*: what is taken back is removed group by
group, and what is due before is never touched. The groups of frames that have been carried out are used again.

Each removal walks the queue: taking back 150 frames costs 0.3 ms, 400 cost 1.4 ms (a look-ahead of 250 ms holds fewer
unless five strings bend at once).
"""

from dataclasses import dataclass
from heapq import heappop, heappush
from typing import Final

from trainer.playback.block_clock import BlockClock, TickOrder
from trainer.playback.event import Event
from trainer.playback.fluid import BLOCK, NO_GROUP, Sequencer

_SURELY_PAST: Final = 2 * BLOCK
"""Frames behind the block that is being rendered: whatever was due there has left the queue."""


@dataclass(frozen=True, slots=True)
class _Frame:
    group: int
    sent: list[tuple[Event, int]]
    """Its events, with their ticks."""


class SynthQueue:
    """The events in front of a synth; `now` is always the frame where the block began that was rendered last."""

    def __init__(self, sequencer: Sequencer, blocks: BlockClock) -> None:
        """Nothing waits. The sequencer must count in `TICKS_A_SECOND`."""
        self._sequencer = sequencer
        self._order = TickOrder(blocks)
        self._frames: dict[int, _Frame] = {}
        self._dues: list[int] = []  # a heap of the same frames
        self._free: list[int] = []

    def send(self, event: Event, now: int) -> None:
        """Queue an event; one whose frame is not after `now` is carried out at once, and cannot be taken back.

        Call it in the order of the frames. A CLICK is not the synth's: KeyError.
        """
        self._forget(now)
        tick = self._order.tick(event)
        self._sequencer.send(tick, event, self._group(event, tick) if event.frame > now else NO_GROUP)

    def _group(self, event: Event, tick: int) -> int:
        frame = self._frames.get(event.frame)
        if frame is None:
            frame = _Frame(self._free.pop() if self._free else self._sequencer.new_group(), [])
            self._frames[event.frame] = frame
            heappush(self._dues, event.frame)
        frame.sent.append((event, tick))
        return frame.group

    def _forget(self, now: int) -> None:
        """Use the groups again whose frames have been carried out."""
        while self._dues and self._dues[0] < now - _SURELY_PAST:
            self._free.append(self._frames.pop(heappop(self._dues)).group)

    def withdraw(self) -> None:
        """Drop everything."""
        self._sequencer.withdraw()
        self._free += [frame.group for frame in self._frames.values()]
        self._frames.clear()
        self._dues.clear()
        self._order.forget()

    def withdraw_from(self, frame: int, now: int) -> None:
        """Drop what is due at a frame or later."""
        self._forget(now)
        for due in sorted(due for due in self._frames if due >= frame):
            group = self._frames.pop(due).group
            self._sequencer.withdraw_group(group)
            self._free.append(group)
        self._dues = sorted(self._frames)  # a sorted list is a heap
        self._order.restart(each for due in self._dues for each in self._frames[due].sent)
