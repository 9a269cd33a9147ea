"""What pitches a sound holds: for each attack, how well each pitch explains the spectrum after it.

The spectrum between an attack and the next one is flattened (log magnitude over its surroundings), put on a grid of
ten cents, and read where a string's partials lie (Fletcher 1962: partial n at n·f·√(1+B·n²)), less half of what
lies midway between them, so that an octave too low does not pass for the note itself.
"""

from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np
import numpy.typing as npt

from trainer.listening.sound import Floats, Ints, Sound

Grid = npt.NDArray[np.float32]
"""Flattened spectra, shape (sounds, cells)."""

GRID_CENTS = 10
LOWEST_HZ, HIGHEST_HZ = 38.0, 5_000.0
PARTIALS = 20
STIFFNESS = 5e-5
"""B of a wound guitar string of middling gauge; at partial 20 it moves 17 cents, within the width read."""
WIDTH_CENTS = 14
FLATTEN_HZ = 400.0
SETTLE_S = 0.006
"""Left out after the foot: the pick's own noise."""
LONGEST_S, SHORTEST_S = 0.2, 0.045


@dataclass(frozen=True, slots=True)
class Evidence:
    """How well each pitch explains the sound after each attack."""

    lowest: int
    """The MIDI pitch of the first column."""
    salience: Floats
    """Shape (attacks, pitches); 1 and more for a note that sounds, about 0 for one that does not."""

    @classmethod
    def gathered(cls, grid: "Grid", lowest: int, highest: int, cents: float = 0.0) -> "Evidence":
        """Evidence for every pitch of a range, for a guitar tuned some cents above A4 = 440 Hz."""
        return cls(lowest, read(grid, np.arange(lowest, highest + 1, dtype=float) + cents / 100))

    def of(self, attack: int, pitches: tuple[int, ...], shift: int = 0) -> float:
        """Salience of a chord, moved by some semitones, after one attack: the mean over its pitches."""
        if not pitches:
            return 0.0
        columns = [pitch + shift - self.lowest for pitch in pitches]
        if any(not 0 <= column < self.salience.shape[1] for column in columns):
            return -1.0
        return float(self.salience[attack, columns].mean())


def hertz(pitch: float) -> float:
    """Frequency of a MIDI pitch at A4 = 440 Hz."""
    return float(440.0 * 2.0 ** ((pitch - 69) / 12))


@lru_cache(maxsize=8)
def _cells(rate: int, size: int) -> Ints:
    """For each grid cell seven spectrum bins that span its width, shape (cells, 7)."""
    count = int(1200 * np.log2(HIGHEST_HZ / LOWEST_HZ) / GRID_CENTS)
    centre = LOWEST_HZ * 2.0 ** (np.arange(count) * GRID_CENTS / 1200)
    half = np.maximum(centre * (2 ** (WIDTH_CENTS / 1200) - 1) * size / rate, 2.0)
    steps = np.linspace(-1, 1, 7)
    return np.round(centre[:, None] * size / rate + half[:, None] * steps).astype(int)


def _partials(pitches: Floats) -> tuple[Ints, Ints, Floats]:
    """Grid cells of the partials, of the places midway below them, and weights; shape (pitches, PARTIALS)."""
    number = np.arange(1, PARTIALS + 1)
    fundamental = 440.0 * 2.0 ** ((pitches[:, None] - 69) / 12)
    at = number * fundamental * np.sqrt(1 + STIFFNESS * number**2)
    between = at - fundamental / 2
    top = HIGHEST_HZ * 0.96
    weight = np.where(at < top, 1 / np.sqrt(number), 0.0)

    def cell(frequency: Floats) -> Ints:
        index = np.round(1200 * np.log2(np.maximum(frequency, LOWEST_HZ) / LOWEST_HZ) / GRID_CENTS)
        return np.asarray(np.where(frequency < top, index, 0), dtype=np.int64)

    return cell(at), cell(between), weight / weight.sum(axis=1, keepdims=True)


def read(grid: Grid, pitches: Floats) -> Floats:
    """Salience of each pitch (fractions allowed) in each flattened spectrum, shape (attacks, pitches)."""
    at, between, weight = _partials(pitches)
    out = np.empty((len(grid), len(pitches)))
    for column in range(len(pitches)):
        out[:, column] = (grid[:, at[column]] - 0.5 * grid[:, between[column]]) @ weight[column]
    return out


def _flattened(sound: Floats, rate: int, size: int) -> Grid:
    """One sound's log spectrum over its surroundings, on the grid."""
    top = min(int(HIGHEST_HZ * 1.1 * size / rate), size // 2)
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), size)[:top])
    level = np.log1p(spectrum * (1000.0 / (spectrum.max() + 1e-12)))
    half = max(1, int(FLATTEN_HZ * size / rate))
    total = np.cumsum(np.pad(level, (half + 1, half), mode="reflect"))
    surroundings = (total[2 * half :] - total[: -2 * half])[: len(level)] / (2 * half)
    cells = np.minimum(_cells(rate, size), top - 1)
    return np.asarray((level - surroundings)[cells].max(axis=1), dtype=np.float32)


def spectra(sound: Sound, starts: Floats, ends: Floats) -> Grid:
    """Flattened spectra of the sound between times in seconds, shape (times, cells)."""
    size = 1 << (round(LONGEST_S * sound.rate) - 1).bit_length()
    out = np.zeros((len(starts), len(_cells(sound.rate, size))), np.float32)
    for row, (start, end) in enumerate(zip(starts, ends, strict=True)):
        first = start + SETTLE_S
        last = min(max(end, first + SHORTEST_S), start + LONGEST_S)
        out[row] = sound.remembered(
            "spectrum",
            round(first * sound.rate),
            round(last * sound.rate),
            partial(_spectrum, sound, first, last, size),
        )
    return out


def _spectrum(sound: Sound, first: float, last: float, size: int) -> Grid | float:
    """The flattened spectrum between two times; 0 where there is nothing."""
    heard = sound.between(first, last)
    return _flattened(heard, sound.rate, size) if len(heard) > 64 and np.any(heard) else 0.0


def tuning_cents(grid: Grid, pitches: list[tuple[int, ...]]) -> float:
    """How far a guitar stands from A4 = 440 Hz, from sounds whose written pitches are mostly right.

    Looked for within half a semitone, in steps of the grid.
    """
    if not len(grid):
        return 0.0
    offsets = np.arange(-50, 51, GRID_CENTS)
    score = np.zeros(len(offsets))
    for chord in set(pitches):
        rows = [row for row, other in enumerate(pitches) if other == chord]
        for pitch in chord:
            score += read(grid[rows], pitch + offsets / 100).sum(axis=0) / len(chord)
    score -= 1e-4 * len(grid) * np.abs(offsets)
    return float(offsets[int(np.argmax(score))])
