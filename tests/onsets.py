"""Onsets of a click train in a recording, and the places where the recording itself has a gap.

The recording is stereo: clicks on the left, a steady sine on the right that shows every gap.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]


def click_onsets(left: Samples, quiet_frames: int) -> NDArray[np.int64]:
    """The first frames over a tenth of the peak after at least `quiet_frames` below it."""
    loud = np.nonzero(np.abs(left) > 0.1 * np.abs(left).max())[0]
    return loud[np.concatenate([[True], np.diff(loud) > quiet_frames])]


def gaps(right: Samples, period: int) -> NDArray[np.int64]:
    """The frames where a sine of `period` frames does not go on as a sine does; neighbours within 2,048 are one gap.

    Three samples in a row of a sine obey x[n+1] = 2 cos(w) x[n] - x[n-1]; what departs from that by more than the noise
    of 16 bits is a gap.
    """
    wave = right.astype(np.float64)
    rest = np.abs(wave[2:] - 2 * math.cos(2 * math.pi / period) * wave[1:-1] + wave[:-2])
    broken = np.nonzero(rest > 8 / 32768)[0] + 1
    if not len(broken):
        return broken
    return broken[np.concatenate([[True], np.diff(broken) > 2048])]


@dataclass(frozen=True, slots=True)
class Timing:
    """How a recorded click train compares with what was asked for."""

    deviations: list[NDArray[np.float64]]
    """For each stretch between gaps: frames from where each click should be, less the stretch's median."""
    gaps: int
    """How many gaps the server made between the first and the last click."""
    lost: int
    """Frames by which the gaps moved what came later."""

    @property
    def worst(self) -> float:
        """The largest deviation, in frames."""
        return max(float(np.abs(stretch).max()) for stretch in self.deviations)

    @property
    def every(self) -> NDArray[np.float64]:
        """All deviations, absolute, in frames."""
        return np.abs(np.concatenate(self.deviations))


def measure(recording: Samples, wanted: NDArray[np.int64], tone_period: int) -> Timing:
    """Compare the clicks of `recording`, shape (frames, 2), with the frames `wanted`, which have any common offset.

    Raises:
        AssertionError: clicks are missing or doubled.
    """
    quiet = int(np.diff(wanted).min()) // 2
    onsets = click_onsets(recording[:, 0], quiet)
    assert len(onsets) == len(wanted), f"{len(wanted)} clicks were sent, {len(onsets)} recorded"
    first, last = onsets[0], onsets[-1]
    breaks = [int(gap) for gap in gaps(recording[:, 1], tone_period) if first < gap < last]
    difference = (onsets - wanted).astype(np.float64)
    stretches = np.split(difference, np.searchsorted(onsets, breaks))
    medians = [float(np.median(stretch)) for stretch in stretches if len(stretch)]
    deviations = [stretch - np.median(stretch) for stretch in stretches if len(stretch)]
    return Timing(deviations, len(breaks), round(medians[-1] - medians[0]))
