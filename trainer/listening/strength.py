"""Onset strength: how much new sound begins in each frame of a take.

Frames of 32 ms every 5 ms, in bands of a quarter tone; the rise of each band against the loudest of it and its
neighbours 15 ms earlier, so that vibrato, which moves between neighbouring bands, counts for little
(after Böck & Widmer 2013, "Maximum filter vibrato suppression for onset detection").
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from trainer.listening.sound import Floats, Samples, Sound

FRAME_S = 0.032
HOP_S = 0.005
LAG = 3
"""Hops between a frame and the one it is compared with: half a frame, where two frames stop sharing an attack."""
BANDS_AN_OCTAVE = 24
LOWEST_HZ, HIGHEST_HZ = 60.0, 10_000.0
COMPRESSION = 10.0
"""Bands are log-compressed from 20 dB under the loud frames of the take upward: a stroke out of silence then weighs
not much more than one out of a ringing note."""
SAMPLED = 8
"""One frame in eight tells how loud a take is."""
BLOCK_FRAMES = 25 * SAMPLED
"""A second at a time, so that a long take needs no more memory than a short one, and of a sound that grows the last
second only is worked out again."""
SILENT_S, EARLY_S, SILENT_SHARE = 0.001, 0.05, 0.01
"""A take begins in silence if its first millisecond is so much softer than its first 50."""


@dataclass(frozen=True, slots=True)
class Strength:
    """The onset strength of a whole take."""

    values: Floats
    """One a hop, of any scale."""
    hop_s: float


@lru_cache(maxsize=8)
def _bands(rate: int, size: int) -> npt.NDArray[np.float32]:
    """Triangular bands, shape (size // 2 + 1, bands); bands narrower than a bin are merged."""
    top = min(HIGHEST_HZ, 0.45 * rate)
    count = int(np.log2(top / LOWEST_HZ) * BANDS_AN_OCTAVE)
    edges = LOWEST_HZ * 2.0 ** (np.arange(count + 2) / BANDS_AN_OCTAVE)
    bins = np.unique(np.round(edges * size / rate).astype(int))
    bank = np.zeros((size // 2 + 1, len(bins) - 2), np.float32)
    for band, (low, centre, high) in enumerate(zip(bins, bins[1:], bins[2:], strict=False)):
        bank[low : centre + 1, band] = np.linspace(0, 1, centre - low + 1)
        bank[centre : high + 1, band] = np.linspace(1, 0, high - centre + 1)
    return bank


@dataclass(frozen=True, slots=True)
class _Frames:
    """A sound cut into windowed frames, and their levels in bands."""

    sound: Sound
    hop: int
    window: npt.NDArray[np.float32]
    size: int

    @property
    def count(self) -> int:
        """How many frames the sound has; each is centred on a whole number of hops."""
        return len(self.sound.samples) // self.hop + 1

    def levels(self, first: int, count: int, stride: int = 1) -> Samples:
        """Magnitudes in bands of `count` frames from `first` on, of every `stride`th; shape (frames, bands)."""
        half = len(self.window) // 2
        begin, end = first * self.hop - half, (first + count - 1) * self.hop - half + len(self.window)
        return self.sound.remembered(f"levels {stride}", begin, end, lambda: self._levels(begin, end, stride))

    def _levels(self, begin: int, end: int, stride: int) -> Samples:
        samples = self.sound.samples
        piece = np.pad(samples[max(begin, 0) : max(end, 0)], (max(-begin, 0), max(end - len(samples), 0)))
        views = np.lib.stride_tricks.sliding_window_view(piece, len(self.window))[:: self.hop * stride]
        spectrum = np.fft.rfft(views * self.window, self.size, axis=1)
        return np.abs(spectrum).astype(np.float32) @ _bands(self.sound.rate, self.size)

    def reference(self) -> float:
        """The level of the take's loud frames: the 95th percentile of one in eight."""
        loudest = [
            self.levels(first, min(BLOCK_FRAMES, self.count - first), SAMPLED).max(axis=1)
            for first in range(0, self.count, BLOCK_FRAMES)
        ]
        return float(np.percentile(np.concatenate(loudest), 95)) + 1e-12


def onset_strength(sound: Sound) -> Strength:
    """The onset strength of a take at any gain: it is measured against the take's own loud frames."""
    hop, length = round(HOP_S * sound.rate), round(FRAME_S * sound.rate)
    frames = _Frames(sound, hop, np.hanning(length).astype(np.float32), 1 << (length - 1).bit_length())
    scale = COMPRESSION / frames.reference()
    values = np.zeros(frames.count)
    for start in range(0 if _begins_in_silence(sound) else LAG, frames.count, BLOCK_FRAMES):
        count = min(BLOCK_FRAMES, frames.count - start)
        bands = np.log1p(frames.levels(start - LAG, count + LAG) * np.float32(scale))
        earlier, now = bands[:-LAG], bands[LAG:]
        loudest = earlier.copy()
        loudest[:, 1:] = np.maximum(loudest[:, 1:], earlier[:, :-1])
        loudest[:, :-1] = np.maximum(loudest[:, :-1], earlier[:, 1:])
        values[start : start + count] = np.maximum(now - loudest, 0).mean(axis=1)
    return Strength(values, hop / sound.rate)


def _begins_in_silence(sound: Sound) -> bool:
    """Whether a take's first attack comes so early that what it rises from lies before the take: silence, then.

    A take that begins within a sound tells nothing of what was before.
    """
    before, after = (np.abs(sound.samples[: round(seconds * sound.rate)]) for seconds in (SILENT_S, EARLY_S))
    return bool(before.max(initial=0.0) < SILENT_SHARE * after.max(initial=0.0))


def peaks(strength: Strength, apart_s: float = 0.015) -> tuple[Floats, Floats]:
    """Every local maximum of the strength: times in seconds, refined by a parabola, and values."""
    values = strength.values
    reach = max(1, round(apart_s / strength.hop_s))
    top = np.ones(len(values), bool)
    for step in range(1, reach + 1):
        top[step:] &= values[step:] >= values[:-step]
        top[:-step] &= values[:-step] > values[step:]
    at = np.flatnonzero(top & (values > 0))
    at = at[at < len(values) - 1]
    before, here, after = np.where(at > 0, values[at - 1], 0.0), values[at], values[at + 1]
    bend = before - 2 * here + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1), 0.0)
    return np.asarray((at + shift) * strength.hop_s), here
