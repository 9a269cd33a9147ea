"""How fast audio files are rendered, beside the `fluidsynth -F` command on the same notes, bank and settings.

Run as `python -m tests.benchmarks.rendering_speed [--minutes 3] [--runs 5] [--banks FILE …]`.

Bound (issue on playback): at least the command's speed. Both load the bank, render and write a 16-bit WAV file, in
turn, with and without reverb and chorus; ours makes its events on the way, the command reads a MIDI file of the same
notes. Speeds are in times real time, medians; the ratio is ours over the command's in the same pair of runs, by the
clock and by the time that the processor spent, which other programs on the machine disturb less."""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.playback.riffs import band, exercise
from trainer.places import bundled
from trainer.playback.midi_file import render_midi
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import render_audio
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.load_patches import load_patches

BPM = 168
GM_BANK = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")


def spent() -> tuple[float, float]:
    """Seconds by the clock, and of the processor's time, children included."""
    times = os.times()
    return time.perf_counter(), times.user + times.system + times.children_user + times.children_system


def by_command(midi: Path, bank: Path, options: SynthOptions, out: Path) -> None:
    """Let the command render."""
    effects = ["-R", str(int(options.reverb)), "-C", str(int(options.chorus))]
    settings = ["-g", str(options.gain), "-r", str(options.rate), "-o", f"synth.polyphony={options.voices}"]
    subprocess.run(["fluidsynth", "-ni", *effects, *settings, "-F", out, bank, midi], check=True, capture_output=True)


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=3)
    parser.add_argument("--runs", type=int, default=5)
    banks = [bundled("patches") / "twinspur.sf2", *([GM_BANK] if GM_BANK.exists() else [])]
    parser.add_argument("--banks", type=Path, nargs="+", default=banks)
    arguments = parser.parse_args()
    if not shutil.which("fluidsynth"):
        print("The fluidsynth command is not installed: there is nothing to compare with.")
        return 1
    music = band(round(arguments.minutes * BPM / 4), BPM)
    timeline = Timeline.of(Piece.of(exercise(music), [music]), load_patches())
    plan = Plan.once(timeline.piece)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        render_audio(timeline, plan, folder / "ours.wav", arguments.banks[0])  # imports what is imported once
        notes = render_midi(timeline, plan, folder / "notes.mid").notes
        print(
            f"{arguments.minutes:g} minutes, {notes} notes in four parts; times real time, median of {arguments.runs}"
        )
        print(f"{'':<24}{'effects':<10}{'ours':>8}{'command':>9}{'ratio':>8}{'processor':>11}{'bound':>7}")
        for bank in arguments.banks:
            for effects in (True, False):
                options = SynthOptions(reverb=effects, chorus=effects)
                ours, theirs, clock, processor = [], [], [], []
                for _ in range(arguments.runs):
                    begin = spent()
                    done = render_audio(timeline, plan, folder / "ours.wav", bank, options)
                    middle = spent()
                    by_command(folder / "notes.mid", bank, options, folder / "theirs.wav")
                    end = spent()
                    ours.append(middle[0] - begin[0])
                    theirs.append(end[0] - middle[0])
                    clock.append(theirs[-1] / ours[-1])
                    processor.append((end[1] - middle[1]) / (middle[1] - begin[1]))
                speed, other = (done.seconds / statistics.median(times) for times in (ours, theirs))
                told, ratio, cpu = "on" if effects else "off", statistics.median(clock), statistics.median(processor)
                print(f"{bank.name:<24}{told:<10}{speed:>8.1f}{other:>9.1f}{ratio:>8.2f}{cpu:>11.2f}{'1.00':>7}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
