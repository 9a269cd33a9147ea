"""A sound that is still coming in, and what has been worked out of it so far.

A pass can be heard while it sounds: what costs most (spectra, feet of attacks, levels in bands) depends on a short
stretch of the sound only, so that hearing the same sound again when more of it has come costs little more than the
new part. Nothing else differs from hearing it once at its end.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainer.listening.sound import Found, Samples, Sound

MOST_BYTES = 48_000_000
"""Of what is remembered; beyond, it is worked out again."""
ROOM_S = 610
"""Room for a pass of ten minutes from the beginning: nothing is copied, and what is not used yet takes no memory."""


class Memory:
    """What was found out about stretches of one sound."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, int, int], Any] = {}
        self.bytes = 0

    def remembered(self, key: tuple[str, int, int], find: Callable[[], Found]) -> Found:
        """What was found before, or what `find` finds."""
        if key not in self._found:
            found = find()
            size = int(getattr(found, "nbytes", 64))
            if self.bytes + size > MOST_BYTES:
                return found
            self.bytes += size
            self._found[key] = found
        return self._found[key]  # type: ignore[no-any-return]  # what was put there


@dataclass(frozen=True, slots=True, eq=False)
class GrowingSound(Sound):
    """The sound so far; every look at it is a value of its own that shares what was found out."""

    memory: Memory
    lower: "dict[int, Growing]"
    """By how many times lower their rate is."""

    def remembered(self, what: str, first: int, last: int, find: Callable[[], Found]) -> Found:
        """What `find` finds in the frames from `first` to `last`, found once when all of them have come."""
        if last > len(self.samples):
            return find()
        return self.memory.remembered((what, first, last), find)

    def lowered(self, least_rate: int) -> Sound:
        """The same sound at a lower rate; only what is new is worked out."""
        step = next((step for step in range(self.rate // least_rate, 1, -1) if self.rate % step == 0), 1)
        if step < 2:
            return self
        grown = self.lower.get(step)
        if grown is None:
            grown = self.lower[step] = Growing(self.rate // step)
        reach = 16  # frames at each end of a piece that hear what lies beyond it
        done = max(0, grown.frames - reach)
        first = max(0, done - reach)
        fresh = Sound(self.samples[first * step :], self.rate).lowered(least_rate).samples
        grown.shorten(done)
        grown.add(fresh[done - first :])
        return grown.sound()


class Growing:
    """Sound that comes in piece by piece, in one stretch of memory."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.frames = 0
        self._samples = np.zeros(ROOM_S * rate, np.float32)
        self._memory = Memory()
        self._lower: dict[int, Growing] = {}

    def add(self, samples: Samples) -> None:
        """Take in what came."""
        end = self.frames + len(samples)
        if end > len(self._samples):
            room = np.zeros(max(end, len(self._samples) * 3 // 2), np.float32)
            room[: self.frames] = self._samples[: self.frames]
            self._samples = room
        self._samples[self.frames : end] = samples
        self.frames = end

    def shorten(self, frames: int) -> None:
        """Let go of what lies beyond a frame; for sound that is made anew there."""
        self.frames = min(self.frames, frames)

    def sound(self) -> GrowingSound:
        """All of it so far."""
        return GrowingSound(self._samples[: self.frames], self.rate, self._memory, self._lower)
