"""A sound that is still coming in, and what has been worked out of it so far.

A pass can be heard while it sounds. The costly steps (spectra, starts of attacks, levels in bands) depend on a short
stretch of the sound only, so hearing the same sound again when more of it has come costs little more than the new
part. The result is the same as hearing it once at its end.
"""

from collections.abc import Callable
from typing import Any

import numpy as np

from trainer.listening.sound import Found, Samples, Sound

MOST_BYTES = 48_000_000
"""What is remembered at most; beyond that, it is worked out again."""
ROOM_S = 610
"""Room for a pass of ten minutes from the beginning: nothing is copied, and unused room takes no memory."""
OVERLAP = 16
"""Frames of the lowered sound at each end of a piece that depend on what lies beyond it."""


class SoundMemory:
    """What was found out about one growing sound; `Sound` asks it first."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, int, int], Any] = {}
        self._lowered: dict[int, GrowingSound] = {}
        self.bytes = 0

    def remembered(self, key: tuple[str, int, int], find: Callable[[], Found]) -> Found:
        """What was found before under a key, or what `find` finds now."""
        if key not in self._found:
            found = find()
            size = int(getattr(found, "nbytes", 64))
            if self.bytes + size > MOST_BYTES:
                return found
            self.bytes += size
            self._found[key] = found
        return self._found[key]  # type: ignore[no-any-return]  # what was put there

    def lowered(self, sound: Sound, step: int) -> Sound:
        """The sound so far at a rate `step` times lower; only its new part is worked out."""
        grown = self._lowered.get(step)
        if grown is None:
            grown = self._lowered[step] = GrowingSound(sound.rate // step)
        done = max(0, grown.frames - OVERLAP)
        first = max(0, done - OVERLAP)
        fresh = Sound(sound.samples[first * step :], sound.rate).divided(step).samples
        grown.shorten(done)
        grown.add(fresh[done - first :])
        return grown.sound()


class GrowingSound:
    """Sound that comes in piece by piece, in one stretch of memory."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.frames = 0
        self._samples = np.zeros(ROOM_S * rate, np.float32)
        self._memory = SoundMemory()

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
        """Drop everything after a frame, because it will be made anew."""
        self.frames = min(self.frames, frames)

    def sound(self) -> Sound:
        """All of it so far, as a value of its own that shares what was found out."""
        return Sound(self._samples[: self.frames], self.rate, self._memory)
