"""How fast practice tracks are made, beside as many runs of the `fluidsynth` command over all processors.

Run as `python -m tests.benchmarks.tracks_speed [--count 25] [--runs 3]`.

Both sides load the bank, render the same notes and write 16-bit WAV files; the command reads MIDI files that were made
before the clock ran. Bound (issue on handing on): at least 0.9 of the command's speed. Starting the processes counts.
"""

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path

from tests.benchmarks.rendering_speed import by_command
from trainer.arranging.realise import realise_exercise
from trainer.exchange.practice_tracks import Batch, Track, TrackRiff, WhoIsHeard, tracks_of
from trainer.exchange.track_rendering import render_tracks
from trainer.notation.files import read_file
from trainer.places import bundled
from trainer.playback.midi_file import render_midi
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.load_patches import load_patches
from trainer.sounds.sound_bank import check_bank

BOUND = 0.9


def wanted(count: int) -> tuple[Batch, Timeline, Sequence[Track]]:
    """So many tracks of one riff of a bundled exercise, at tempos that differ a little."""
    path = bundled("exercises") / "iron-causeway.md"
    exercise = realise_exercise(read_file(path), path.name)
    riff = exercise.riffs[0]
    piece = Piece.of(exercise, (riff,))
    bank = bundled("patches") / "twinspur.sf2"
    rig = load_patches().fitted_to(check_bank(bank))
    plan = Plan(Loop(0, len(piece.bars) - 1), passes=4)
    stretch = TrackRiff(riff.name, piece.target_bpm(0), piece.part_names, plan)
    tempos = [[Fraction(100 + number) for number in range(count)]]
    tracks = tracks_of([stretch], tempos, [WhoIsHeard.FULL], ["guitar 1"], ".wav")
    return Batch(exercise, rig, bank, SynthOptions(), Path(), count), Timeline.of(piece, rig), tracks


def main() -> int:
    """Measure in turn, print the ratio of the medians."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=25)
    parser.add_argument("--runs", type=int, default=3)
    asked = parser.parse_args()
    if shutil.which("fluidsynth") is None:
        print("Skipped: there is no fluidsynth command (Debian: fluidsynth).")
        return 0
    batch, timeline, tracks = wanted(asked.count)
    ours, theirs = [], []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        midis = [folder / f"{track.number}.mid" for track in tracks]
        for track, midi in zip(tracks, midis, strict=True):
            render_midi(timeline, track.plan, midi)
        for run in range(asked.runs):
            place = folder / f"ours-{run}"
            place.mkdir()
            begun = time.perf_counter()
            own = Batch(batch.exercise, batch.rig, batch.bank, batch.options, place, batch.of)
            render_tracks(own, tracks, {track.name: "" for track in tracks}, {}, lambda track, answer: None)
            ours.append(time.perf_counter() - begun)
            begun = time.perf_counter()
            with ThreadPoolExecutor(os.cpu_count()) as pool:
                list(
                    pool.map(lambda midi: by_command(midi, batch.bank, batch.options, midi.with_suffix(".wav")), midis)
                )
            theirs.append(time.perf_counter() - begun)
    ratio = statistics.median(theirs) / statistics.median(ours)
    print(
        f"{asked.count} tracks: {statistics.median(ours):.1f} s, the command {statistics.median(theirs):.1f} s; "
        f"speed {ratio:.2f} of the command's  / bound {ratio / BOUND:.2f}"
    )
    return 0 if ratio >= BOUND else 1


if __name__ == "__main__":
    sys.exit(main())
