"""A stretch of recorded sound: one guitarist, one channel."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Found = TypeVar("Found")


BLOCK = 1 << 17
"""Samples that are worked on at once."""


class Memory(Protocol):
    """What was worked out of a sound before; `growing_sound.SoundMemory` for one that is still coming in."""

    def remembered(self, key: tuple[str, int, int], find: "Callable[[], Found]") -> "Found":
        """What was found before under a key, or what `find` finds now."""

    def lowered(self, sound: "Sound", step: int) -> "Sound":
        """The sound at a rate `step` times lower."""


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """Mono sound in memory."""

    samples: Samples
    """Shape (frames,), full scale 1."""
    rate: int
    """Frames a second."""
    memory: Memory | None = None
    """Where results are kept for a sound that grows; None works everything out anew."""

    def __post_init__(self) -> None:
        if self.samples.ndim != 1 or self.samples.dtype != np.float32:
            raise ValueError(f"Sound is one channel of float32, not {self.samples.dtype} {self.samples.shape}.")
        if self.rate < 1:
            raise ValueError("Sound needs a sample rate.")

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.samples) / self.rate

    @property
    def peak(self) -> float:
        """The largest magnitude; not a number where the samples are damaged."""
        return float(max(self.samples.max(initial=0.0), -self.samples.min(initial=0.0)))

    def lowered(self, least_rate: int) -> "Sound":
        """The same sound at the lowest whole division of its rate that is at least `least_rate`."""
        step = next((step for step in range(self.rate // least_rate, 1, -1) if self.rate % step == 0), 1)
        if step < 2:
            return self
        return self.divided(step) if self.memory is None else self.memory.lowered(self, step)

    def divided(self, step: int) -> "Sound":
        """The same sound at a rate `step` times lower, which must divide its rate.

        A windowed sinc of 32 taps a kept sample takes out what would fold back; it passes 90 % of the new band.
        """
        count = 32 * step
        place = np.arange(count) - (count - 1) / 2
        taps = (np.sinc(0.96 * place / step) * np.blackman(count)).astype(np.float32)
        taps /= taps.sum()
        kept = len(self.samples) // step
        out = np.empty(kept, np.float32)
        for begin in range(0, kept, BLOCK):
            end = min(begin + BLOCK, kept)
            first, last = begin * step - count // 2, end * step + count // 2
            piece = self.samples[max(first, 0) : last]
            piece = np.pad(piece, (max(-first, 0), max(last - len(self.samples), 0)))
            parts = (np.convolve(piece[phase::step], taps[phase::step][::-1], "valid") for phase in range(step))
            out[begin:end] = sum(part[: end - begin] for part in parts)
        return Sound(out, self.rate // step)

    def remembered(self, what: str, first: int, last: int, find: "Callable[[], Found]") -> "Found":
        """What `find` finds in the frames from `first` to `last`, found once where the sound has a memory."""
        if self.memory is None or last > len(self.samples):
            return find()
        return self.memory.remembered((what, first, last), find)

    def between(self, start_s: float, end_s: float) -> Floats:
        """The samples between two times, as float64; what lies outside the sound is left out."""
        first = max(0, round(start_s * self.rate))
        return self.samples[first : max(first, round(end_s * self.rate))].astype(float)

    def levels(self, starts: Floats, length_s: float) -> Floats:
        """Root mean square over `length_s` from each of several times, full scale 1; 0 outside the sound."""
        sounds = (self.between(start, start + length_s) for start in starts)
        return np.array([np.sqrt(np.mean(sound * sound)) if len(sound) else 0.0 for sound in sounds])
