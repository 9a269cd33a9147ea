"""How exactly notes and clicks stand in rendered audio, over ten minutes at 173 bpm (a tempo with many block phases).

Run as `python -m tests.benchmarks.rendered_onsets [--minutes 10] [--bpm 173] [--bank FILE]`.

Bounds (issue on playback): every note within half a synth block, 32 frames at 48 kHz, a constant offset removed;
every click within one frame; no drift. Notes are found by laying the sound of one note, rendered alone, over the
recording where it fits best; so are clicks, in the difference of a rendering with and one without them. Exact places
are computed here from the tempo alone. The peer is the `fluidsynth -F` command on a MIDI file of the same notes,
measured the same way."""

import argparse
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.playback.riffs import exercise, gallop_bar, guitar, riff
from trainer.places import bundled
from trainer.playback.midi_file import render_midi
from trainer.playback.mix import Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.load_patches import load_patches
from trainer.sounds.rig import Rig

RATE = 48000
DRY = SynthOptions(RATE, reverb=False, chorus=False)
NOTE_BOUND, CLICK_BOUND = 32, 1
SEARCH = 200
LONG = 512

Sound = NDArray[np.float32]


@dataclass(frozen=True)
class Found:
    """Deviations from the exact places, in frames, with the median removed."""

    deviations: NDArray[np.float64]
    offset: float

    @property
    def most(self) -> float:
        """The largest deviation."""
        return float(np.abs(self.deviations).max())

    @property
    def drift(self) -> float:
        """How far a straight line through all deviations goes from the first to the last, in frames."""
        count = len(self.deviations)
        return float(np.polyfit(np.linspace(0, 1, count), self.deviations, 1)[0])

    @property
    def noise(self) -> float:
        """The standard error of `drift` that the spread of the deviations alone makes."""
        count = len(self.deviations)
        return float(self.deviations.std() * np.sqrt(12 / count))


def find(sound: Sound, template: Sound, places: list[Fraction]) -> Found:
    """Lay `template` over `sound` around each exact place, and see where it fits best."""
    found = []
    energy = float((template**2).sum())
    for place in places:
        begin = max(0, int(place) - SEARCH)
        window = sound[begin : begin + 2 * SEARCH + len(template)]
        if len(window) < len(template):
            continue
        product = np.correlate(window, template, "valid")
        squares = np.convolve(window**2, np.ones(len(template), np.float32), "valid")
        best = int(np.argmin(squares - 2 * product + energy))
        found.append(begin + best - float(place))
    deviations = np.array(found)
    offset = float(np.median(deviations))
    return Found(deviations - offset, offset)


def mono(sound: Sound) -> Sound:
    """Both sides together."""
    return np.ascontiguousarray(sound.sum(axis=1), dtype=np.float32)


def rendered(timeline: Timeline, plan: Plan, bank: Path) -> Sound:
    """The sound of a plan."""
    synth = OfflineSynth(bank, DRY, click_keys(timeline))
    sound = np.concatenate(list(sound_of(timeline, plan, synth)))
    synth.close()
    return mono(sound)


def one_note(bpm: int, rig: Rig, bank: Path) -> Sound:
    """The beginning of a plain stroke of the gallop, rendered alone."""
    stroke = replace(gallop_bar()[1], offset=Fraction(0))
    music = riff(guitar((stroke,)), target=bpm)
    return rendered(Timeline.of(Piece.of(exercise(music), [music]), rig), Plan(Loop(0, 0)), bank)[:LONG]


def by_command(midi: Path, bank: Path, folder: Path) -> Sound:
    """What the fluidsynth command renders."""
    out = folder / "peer.wav"
    subprocess.run(
        ["fluidsynth", "-ni", "-R", "0", "-C", "0", "-g", str(DRY.gain), "-r", str(RATE), "-F", out, bank, midi],
        check=True,
        capture_output=True,
    )
    return mono(soundfile.read(out, dtype="float32")[0])


def line(name: str, found: Found, bound: float | None) -> None:
    """Print a row."""
    told = f"{bound:7.0f} {found.most / bound:6.2f}" if bound else f"{'':>7} {'':>6}"
    print(
        f"{name:<34}{len(found.deviations):>7} {told} {found.most:8.2f} {1000 * found.most / RATE:8.3f}"
        f" {found.drift:8.2f} {found.noise:6.2f} {found.offset:8.1f}"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--bpm", type=int, default=173)
    parser.add_argument("--bank", type=Path, default=bundled("patches") / "twinspur.sf2")
    arguments = parser.parse_args()
    bars = round(arguments.minutes * arguments.bpm / 4)
    music = riff(guitar(*(gallop_bar() for _ in range(bars))), target=arguments.bpm)
    rig = load_patches()
    timeline = Timeline.of(Piece.of(exercise(music), [music]), rig)
    whole = Fraction(4 * 60 * RATE, arguments.bpm)
    beat = (Fraction(0), Fraction(1, 8), Fraction(3, 16))
    # The first stroke of each bar is accented and has another velocity: it is left out.
    notes = [(bar + Fraction(n, 4) + at) * whole for bar in range(bars) for n in range(4) for at in beat if n or at]
    template = one_note(arguments.bpm, rig, arguments.bank)
    print(f"{arguments.minutes:g} minutes at {arguments.bpm} bpm, {arguments.bank.name}, {RATE} Hz; in frames")
    print(f"{'':<34}{'found':>7} {'bound':>7} {'ratio':>6} {'most':>8} {'ms':>8} {'drift':>8} {'±':>6} {'offset':>8}")
    without = rendered(timeline, Plan(timeline.piece.whole), arguments.bank)
    line("notes", find(without, template, notes), NOTE_BOUND)
    gallop = rig.click_pattern("gallop")
    clicked = Plan(timeline.piece.whole, click=gallop)
    ticks = [(bar + Fraction(n, 4) + at) * whole for bar in range(bars) for n in range(4) for at in beat if at]
    alone = Plan(Loop(0, 0), click=gallop, mix=Mix().only(["click"], timeline.parts))
    second = int(ticks[0])
    click = rendered(timeline, alone, arguments.bank)[second : second + LONG]
    difference = rendered(timeline, clicked, arguments.bank)
    difference[: len(without)] -= without[: len(difference)]
    line("clicks over the notes", find(difference, click, ticks), CLICK_BOUND)
    only = rendered(timeline, Plan(timeline.piece.whole, click=gallop, mix=alone.mix), arguments.bank)
    line("clicks alone", find(only, click, ticks), CLICK_BOUND)
    if shutil.which("fluidsynth"):
        with tempfile.TemporaryDirectory() as folder:
            render_midi(timeline, Plan(timeline.piece.whole), Path(folder) / "x.mid")
            peer = by_command(Path(folder) / "x.mid", arguments.bank, Path(folder))
        line("notes, fluidsynth -F (peer)", find(peer, template, notes), None)


if __name__ == "__main__":
    main()
