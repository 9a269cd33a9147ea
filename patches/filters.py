"""Second-order filters and saturation, in operations that every machine rounds alike.

Coefficients are the well-known bilinear ones (R. Bristow-Johnson, Audio EQ Cookbook, published by the W3C Audio Working
Group), rounded to 12 decimals so that a last bit of a sine cannot matter; the rest is plain IEEE 754 arithmetic without
sums whose order depends on the machine.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Signal = NDArray[np.float64]
Section = tuple[float, float, float, float, float]
"""b0, b1, b2, a1, a2, with a0 = 1."""


def _section(b: Sequence[float], a: Sequence[float]) -> Section:
    return tuple(round(value / a[0], 12) for value in (*b, *a[1:]))  # type: ignore[return-value]


def _angle(hz: float, rate: float, q: float) -> tuple[float, float]:
    omega = 2 * math.pi * min(hz, 0.45 * rate) / rate
    return math.cos(omega), math.sin(omega) / (2 * q)


def low_pass(rate: float, hz: float, q: float = 0.7071) -> Section:
    """Passes what is below `hz`."""
    c, alpha = _angle(hz, rate, q)
    return _section(((1 - c) / 2, 1 - c, (1 - c) / 2), (1 + alpha, -2 * c, 1 - alpha))


def high_pass(rate: float, hz: float, q: float = 0.7071) -> Section:
    """Passes what is above `hz`."""
    c, alpha = _angle(hz, rate, q)
    return _section(((1 + c) / 2, -1 - c, (1 + c) / 2), (1 + alpha, -2 * c, 1 - alpha))


def band_pass(rate: float, hz: float, q: float) -> Section:
    """Passes what is around `hz`, at its own level there."""
    c, alpha = _angle(hz, rate, q)
    return _section((alpha, 0.0, -alpha), (1 + alpha, -2 * c, 1 - alpha))


def all_pass(rate: float, hz: float, q: float) -> Section:
    """Keeps every level and turns the phase, by half a circle at `hz`."""
    c, alpha = _angle(hz, rate, q)
    return _section((1 - alpha, -2 * c, 1 + alpha), (1 + alpha, -2 * c, 1 - alpha))


def peak(rate: float, hz: float, db: float, q: float = 1.0) -> Section:
    """Raises or lowers what is around `hz` by `db`."""
    c, alpha = _angle(hz, rate, q)
    gain = 10 ** (db / 40)
    return _section((1 + alpha * gain, -2 * c, 1 - alpha * gain), (1 + alpha / gain, -2 * c, 1 - alpha / gain))


def high_shelf(rate: float, hz: float, db: float) -> Section:
    """Raises or lowers what is above `hz` by `db`."""
    c, alpha = _angle(hz, rate, 0.7071)
    gain = 10 ** (db / 40)
    edge = 2 * math.sqrt(gain) * alpha
    return _section(
        (
            gain * (gain + 1 + (gain - 1) * c + edge),
            -2 * gain * (gain - 1 + (gain + 1) * c),
            gain * (gain + 1 + (gain - 1) * c - edge),
        ),
        (gain + 1 - (gain - 1) * c + edge, 2 * (gain - 1 - (gain + 1) * c), gain + 1 - (gain - 1) * c - edge),
    )


def filtered(signal: Signal, *sections: Section) -> Signal:
    """The signal through the sections, one after the other."""
    values: list[float] = signal.tolist()
    for b0, b1, b2, a1, a2 in sections:
        one = two = 0.0
        for i, x in enumerate(values):
            y = b0 * x + one
            one = b1 * x - a1 * y + two
            two = b2 * x - a2 * y
            values[i] = y
    return np.array(values)


def power_gain(section: Section, hz: Signal, rate: float) -> Signal:
    """By how much a section raises the power at each frequency."""
    b0, b1, b2, a1, a2 = section
    turn = np.exp(-2j * np.pi * hz / rate)
    return np.asarray(np.abs((b0 + turn * (b1 + turn * b2)) / (1 + turn * (a1 + turn * a2))) ** 2)


def falling(frames: int, rate: float, seconds: float) -> Signal:
    """An envelope from 1 that falls by 60 dB in `seconds`, by repeated multiplication."""
    step = np.full(frames, round(10 ** (-3 / (seconds * rate)), 15))
    step[0] = 1.0
    return np.cumprod(step)


def saturated(signal: Signal, gain: float, bias: float = 0.0) -> Signal:
    """A valve's soft limit at 1, driven by `gain`; `bias` makes it uneven, which adds even harmonics."""
    driven = signal * gain + bias
    rest = bias / math.sqrt(1 + bias * bias)
    return driven / np.sqrt(1 + driven * driven) - rest


def loudness(signal: Signal, rate: float) -> float:
    """Root mean square after the two filters of ITU-R BS.1770 (a shelf over 1.7 kHz, and less below 60 Hz)."""
    heard = filtered(signal, high_shelf(rate, 1682.0, 4.0), high_pass(rate, 38.1, 0.5))
    return math.sqrt(math.fsum((heard * heard).tolist()) / len(heard))
