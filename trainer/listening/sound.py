"""A stretch of recorded sound: one guitarist, one channel."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """Mono sound in memory."""

    samples: Samples
    """Shape (frames,), full scale 1."""
    rate: int
    """Frames a second."""

    def __post_init__(self) -> None:
        if self.samples.ndim != 1 or self.samples.dtype != np.float32:
            raise ValueError(f"Sound is one channel of float32, not {self.samples.dtype} {self.samples.shape}.")
        if self.rate < 1:
            raise ValueError("Sound needs a sample rate.")

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.samples) / self.rate

    def between(self, start_s: float, end_s: float) -> Floats:
        """The samples between two times, as float64; what lies outside the sound is left out."""
        first = max(0, round(start_s * self.rate))
        return self.samples[first : max(first, round(end_s * self.rate))].astype(float)

    def levels(self, starts: Floats, length_s: float) -> Floats:
        """Root mean square over `length_s` from each of several times, full scale 1; 0 outside the sound."""
        total = np.concatenate([[0.0], np.cumsum(self.samples.astype(float) ** 2)])
        first = np.clip((starts * self.rate).astype(int), 0, len(self.samples))
        last = np.clip(((starts + length_s) * self.rate).astype(int), 0, len(self.samples))
        return np.asarray(np.sqrt((total[last] - total[first]) / np.maximum(last - first, 1)))
