"""How the bundled exercises are mixed: loudness, peaks, and the first guitar against everybody else.

Run as `python -m tests.benchmarks.mix [EXERCISE …]`. Each exercise is rendered once through its riffs, as the program
plays it. Bounds are the project's own: loudness (ITU-R BS.1770) of -18 to -16 LUFS with at most 1.5 LU between
exercises, true peaks (four times oversampled) of -3 dBTP at most, and a guitar at most 4 LU under the whole.
"""

import argparse
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.benchmarks.sound_measures import loudness
from tests.sounds.hearing import Signal
from trainer.arranging.realise import realise
from trainer.music.exercise import Exercise
from trainer.notation.files import read_file
from trainer.places import bundled
from trainer.playback.mix import CLICK, Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.synth_options import BUILT_IN_GAIN, SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches


@dataclass(frozen=True)
class Mixed:
    """What one exercise comes to."""

    lufs: float
    peak_dbtp: float
    guitar_lu: float
    """The first guitar alone against the whole."""
    guitars: int


def true_peak(sound: Signal) -> float:
    """The highest peak between the samples too, in dB below full scale: four times oversampled, a second at a time."""
    highest = 0.0
    for start in range(0, len(sound), 48000):
        part = sound[max(0, start - 480) : start + 48480]
        size = len(part)
        spectrum = np.fft.rfft(part, axis=0)
        finer = np.fft.irfft(np.pad(spectrum, ((0, 3 * size // 2 + 1), (0, 0))), 4 * size, axis=0) * 4
        highest = max(highest, float(np.abs(finer[400:-400]).max()))
    return float(20 * np.log10(highest + 1e-9))


def mixed(exercise: Exercise) -> Mixed:
    """Render an exercise's riffs one after the other, whole and the first guitar alone, and measure."""
    line = Timeline.of(Piece.of(exercise, [realise(each) for each in exercise.riffs]), load_patches())
    names = line.piece.part_names
    whole = rendered(line, Mix().without(CLICK))
    guitars = [name for name in names if name.startswith("guitar")]
    alone = rendered(line, Mix().only([guitars[0]], [*names, CLICK])) if guitars else whole
    return Mixed(loudness(whole), true_peak(whole), loudness(alone) - loudness(whole), len(guitars))


def rendered(line: Timeline, mix: Mix) -> Signal:
    """The sound of a piece from beginning to end, two columns."""
    synth = OfflineSynth(built_in_bank(), SynthOptions(gain=BUILT_IN_GAIN), click_keys(line))
    sound = np.concatenate(list(sound_of(line, Plan(line.piece.whole, mix=mix), synth)))
    synth.close()
    return np.asarray(sound, dtype=float)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("exercise", nargs="*", help="names of bundled exercises; all unless said")
    names = parser.parse_args().exercise
    folder = bundled("exercises")
    paths = [folder / f"{name}.md" for name in names] or sorted(folder.glob("*.md"))
    found: list[float] = []
    print(f"{'':<26}{'LUFS':>8}{'dBTP':>8}{'guitar 1, LU':>14}{'guitars':>9}")
    for path in (Path(each) for each in paths if each.name != "README.md"):
        one = mixed(read_file(path))
        found.append(one.lufs)
        print(f"{path.stem:<26}{one.lufs:>8.1f}{one.peak_dbtp:>8.1f}{one.guitar_lu:>14.1f}{one.guitars:>9}", flush=True)
    print(f"{'least / most':<26}{min(found):>8.1f} /{max(found):>6.1f}   within {max(found) - min(found):.1f} LU")


if __name__ == "__main__":
    main()
