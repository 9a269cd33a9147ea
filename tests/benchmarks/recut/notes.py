"""Single notes cut out of takes with known truth, to be set to new riffs.

A cut begins a little before its attack and ends before the next one; notes under a noise, too near to another one, or
of an unclear attack are left out.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

Wave = npt.NDArray[np.float64]

RATE = 48_000
BEFORE_S = 0.002
LONGEST_S = 0.7
FARTHEST = 7
"""Semitones by which a cut is moved at most, unless there is none nearer."""


@dataclass(frozen=True)
class Cut:
    """One note or chord, as it was recorded."""

    source: str
    art: str
    """`pm`, `open` or `hammer`."""
    pitches: tuple[int, ...]
    samples: Wave
    """From `BEFORE_S` before the first string on, at `RATE`."""
    strings: tuple[float, ...]
    """Seconds from the first string to each."""

    @property
    def seconds(self) -> float:
        return len(self.samples) / RATE - BEFORE_S


def cuts(folder: Path, *, recorded: bool = True) -> list[Cut]:
    """Every clean note of a folder of takes."""
    found: list[Cut] = []
    for path in sorted(folder.glob("*.json")):
        values = json.loads(path.read_text("utf-8"))
        if not isinstance(values, dict) or values.get("real_recorded") is not recorded:
            continue
        samples, rate = soundfile.read(path.with_suffix(".flac"))
        if rate != RATE:
            raise ValueError(f"{path.name}: cuts are made at {RATE} Hz.")
        loud = np.percentile(np.abs(samples), 99.5)
        onsets = sorted(note["onset"] for note in values["notes"] if note["onset"] is not None)
        noises = [ghost["t"] for ghost in values["ghosts"]]
        for note in values["notes"]:
            at = note["onset"]
            if at is None or (recorded and note["attack_ms"] > 8):
                continue
            following = min((other for other in onsets if other > at), default=at + LONGEST_S)
            before = max((other for other in onsets if other < at), default=0.0)
            if following - at < 0.08 or at - before < 0.05 or any(at - 0.05 < noise < following for noise in noises):
                continue
            end = min(following - 0.004, at + LONGEST_S)
            piece = samples[round((at - BEFORE_S) * RATE) : round(end * RATE)] / loud
            strings = tuple(string - at for string in note["strings"])
            found.append(Cut(values["source"], note["art"], tuple(note["played"]), piece, strings))
    return found


def shifted(samples: Wave, semitones: int) -> Wave:
    """The same sound at another pitch and speed."""
    if not semitones:
        return samples
    ratio = 2 ** (semitones / 12)
    size = 1 << (2 * len(samples) - 1).bit_length()
    spectrum = np.fft.rfft(samples, size)
    if ratio > 1:
        spectrum[int(len(spectrum) / ratio * 0.97) :] = 0
    finer = 4
    wide = np.zeros(finer * size // 2 + 1, complex)
    wide[: len(spectrum)] = spectrum
    fine = np.fft.irfft(wide) * finer
    place = np.arange(int(len(samples) / ratio)) * ratio * finer
    return np.asarray(np.interp(place, np.arange(len(fine)), fine))


@dataclass(frozen=True)
class Voice:
    """One cut as it is to be mixed in."""

    at_s: float
    """From the stroke's time to the beginning of the samples, mostly below 0."""
    samples: Wave


def voices(
    rng: np.random.Generator, pool: Sequence[Cut], source: str, pitches: tuple[int, ...], art: str,
    seconds: float, strum_s: float,
) -> tuple[list[Voice], list[float]]:  # fmt: skip
    """A stroke from cuts, and when each of its strings sounds after the first.

    Args:
        rng: chooses.
        pool: all cuts.
        source: the guitar, where it has a fitting note.
        pitches: those asked for.
        art: `pm`, `open` or `hammer`.
        seconds: how long it is to sound, where there are cuts that long.
        strum_s: from a chord's first string to its last, at most.
    """
    if len(pitches) > 1:
        steps = [pitch - pitches[0] for pitch in pitches]
        same = [
            cut
            for cut in pool
            if cut.source == source and [pitch - cut.pitches[0] for pitch in cut.pitches] == steps
            if abs(cut.pitches[0] - pitches[0]) <= FARTHEST
        ]  # fmt: skip
        if same and rng.random() < 0.4:
            chosen = _nearest(rng, same, pitches[0], seconds)
            ratio = 2 ** ((pitches[0] - chosen.pitches[0]) / 12)
            whole = shifted(chosen.samples, pitches[0] - chosen.pitches[0])
            return [Voice(-BEFORE_S / ratio, whole)], [offset / ratio for offset in chosen.strings]
    offsets = np.sort(np.concatenate([[0.0], rng.uniform(0, strum_s, len(pitches) - 1)]))
    out = []
    for offset, pitch in zip(offsets, pitches, strict=True):
        single = [cut for cut in pool if len(cut.pitches) == 1 and (cut.art == "pm") == (art == "pm")]
        own = [cut for cut in single if cut.source == source and abs(cut.pitches[0] - pitch) <= FARTHEST]
        chosen = _nearest(rng, own or single, pitch, seconds)
        semitones = pitch - chosen.pitches[0]
        level = rng.uniform(0.7, 1.0) if len(pitches) > 1 else 1.0
        out.append(Voice(float(offset) - BEFORE_S / 2 ** (semitones / 12), level * shifted(chosen.samples, semitones)))
    return out, [float(offset) for offset in offsets]


def _nearest(rng: np.random.Generator, some: Sequence[Cut], pitch: int, seconds: float) -> Cut:
    """One of the cuts nearest in pitch, of those that sound long enough once moved, or else of the longest."""

    def lasts(cut: Cut) -> float:
        return cut.seconds * 2 ** ((cut.pitches[0] - pitch) / 12)

    long = [cut for cut in some if lasts(cut) >= seconds] or sorted(some, key=lasts)[-4:]
    reach = max(min(abs(cut.pitches[0] - pitch) for cut in long), 2)
    near = [cut for cut in long if abs(cut.pitches[0] - pitch) <= reach]
    return near[int(rng.integers(len(near)))]
