"""Frames, FluidSynth's blocks and its sequencer's ticks: which tick makes an event take effect at which frame.

FluidSynth renders blocks of 64 frames. At the start of block b it advances its sequencer to the whole millisecond
`floor(1000 * 64 b / rate)` and carries out what is due. An event for frame f therefore belongs to the block that
begins nearest to f, within 32 frames, and is on time there when its tick lies after the tick of the block before.
Taking the plain time in ticks instead spreads onsets by up to 48 frames and puts them a block late. Below 64 kHz a
block is longer than a millisecond, so every block has its own.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK

SLOTS: Final = 64
"""Ticks in a millisecond: as many places for events that one block carries out in order."""

TICKS_A_SECOND: Final = 1000 * SLOTS

LONGEST: Final = 18 * 3600
"""Seconds after which the tick, a 32-bit number, is about to overflow (at 18.6 hours)."""


@dataclass(frozen=True, slots=True)
class BlockClock:
    """The arithmetic for one sample rate, in frames a second."""

    rate: int

    def block(self, frame: int) -> int:
        """The block that begins nearest to `frame`."""
        return max(0, (frame + BLOCK // 2) // BLOCK)

    def millisecond(self, block: int) -> int:
        """Where the sequencer stands while `block` is rendered."""
        return 1000 * BLOCK * block // self.rate

    def first_tick(self, block: int) -> int:
        """The first tick of a block's millisecond that the block before does not reach; 0 for block 0."""
        return max(0, (self.millisecond(block) - 1) * SLOTS + 1)

    def last_tick(self, block: int) -> int:
        """The last tick that is due at `block`."""
        return self.millisecond(block) * SLOTS

    def frame(self, tick: int) -> int:
        """The frame at which the block began in which the sequencer reached `tick`."""
        return -(-(tick // SLOTS) * self.rate // (1000 * BLOCK)) * BLOCK


class TickOrder:
    """Gives each event its tick so that events of one block are carried out in the order they were sent.

    FluidSynth sorts by tick only, and many events fall into one block. A note's end must never overtake its start.
    """

    def __init__(self, clock: BlockClock) -> None:
        self._clock = clock
        self.forget()

    def forget(self) -> None:
        """Start anew: nothing is pending."""
        self._block = -1
        self._tick = 0
        self._started: dict[tuple[int, int], int] = {}
        self._ended: dict[tuple[int, int], int] = {}

    def restart(self, kept: Iterable[tuple[Event, int]]) -> None:
        """Start anew, when of everything pending only these events with their ticks are left, in order."""
        self.forget()
        for event, tick in kept:
            self._block, self._tick = self._clock.block(event.frame), tick
            if event.kind is Kind.NOTE_ON:
                self._started[event.channel, event.one] = tick
            elif event.kind is Kind.NOTE_OFF:
                self._ended[event.channel, event.one] = tick

    def tick(self, event: Event) -> int:
        """The tick for an event; call it once for each event, in the order of their frames."""
        clock, block = self._clock, self._clock.block(event.frame)
        within = event.frame - block * BLOCK + BLOCK // 2  # 0 to 63
        tick = clock.first_tick(block) + min(max(within, 0), BLOCK - 1) // 2
        if block == self._block:
            tick = max(tick, self._tick + 1)
        tick = min(tick, clock.last_tick(block))
        self._block, self._tick = block, tick
        note = (event.channel, event.one)
        if event.kind is Kind.NOTE_ON:
            self._started[note] = tick = max(tick, self._ended.get(note, 0))
        elif event.kind is Kind.NOTE_OFF:
            self._ended[note] = tick = max(tick, self._started.get(note, -1) + 1)
        return tick
