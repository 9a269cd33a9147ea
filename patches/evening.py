"""Even timbre over the neck: each root of a sound is equalised towards a straight line through all of them.

Neighbouring roots differ in what the place of the pick and that of the pickup take from their overtones, which is heard
as a step between two keys of a scale. How bright a root is, is the centre of its power spectrum in octaves. The line is
rounded to a hundredth and the equaliser to half a decibel, so that no machine's last digit can matter.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from filters import Signal, filtered, high_shelf, power_gain

HEARD_S = 0.3
SHELF_HZ = 900.0
MOST_DB = 9.0
STEP_DB = 0.5


@dataclass(frozen=True, slots=True)
class _Spectrum:
    """The power of a sound's first 0.3 s from 60 Hz to 10 kHz."""

    hz: Signal
    power: Signal
    rate: int

    @classmethod
    def of(cls, signal: Signal, rate: int) -> "_Spectrum":
        part = signal[: int(HEARD_S * rate)]
        power = np.abs(np.fft.rfft(part * np.hanning(len(part)))) ** 2
        hz = np.fft.rfftfreq(len(part), 1 / rate)
        heard = (hz > 60) & (hz < 10000)
        return cls(hz[heard], power[heard], rate)

    def centre(self, shelf_db: float = 0.0) -> float:
        """The centre in octaves over 1 Hz, through a shelf."""
        power = self.power * power_gain(high_shelf(self.rate, SHELF_HZ, shelf_db), self.hz, self.rate)
        return float(np.log2((power * self.hz).sum() / power.sum()))


def evened(sounds: Sequence[tuple[Signal, int]], keys: Sequence[int]) -> list[Signal]:
    """The signals, each with its rate and its key, as bright as the line through all of them says."""
    spectra = [_Spectrum.of(signal, rate) for signal, rate in sounds]
    centres = [spectrum.centre() for spectrum in spectra]
    middle = sum(keys) / len(keys)
    mean = sum(centres) / len(centres)
    slope = sum((key - middle) * centre for key, centre in zip(keys, centres, strict=True))
    slope /= sum((key - middle) ** 2 for key in keys)
    even = []
    for (signal, rate), spectrum, key in zip(sounds, spectra, keys, strict=True):
        shelf_db = _nearest(spectrum, round(mean + slope * (key - middle), 2))
        even.append(filtered(signal, high_shelf(rate, SHELF_HZ, shelf_db)))
    return even


def _nearest(spectrum: _Spectrum, target: float) -> float:
    """The shelf that brings the centre to `target` or just over it; brightness rises with the shelf."""
    low, high = round(-MOST_DB / STEP_DB), round(MOST_DB / STEP_DB)
    while low < high:
        step = (low + high) // 2
        if spectrum.centre(step * STEP_DB) < target:
            low = step + 1
        else:
            high = step
    return low * STEP_DB
