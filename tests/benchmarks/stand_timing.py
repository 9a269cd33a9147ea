"""How exactly notes sound, and leave for a port, while the stand follows them on a large screen.

Run as `python -m tests.benchmarks.stand_timing [--seconds 20] [--size 200x60]`; needs pulseaudio, parec and jackd.

The program runs in a pseudo-terminal with two gallops, bass and drums on its stand at 190 bpm, the full screen
following. First on PulseAudio's null sink, whose monitor is recorded: guitar 1 alone, with a bank whose note is a click
(`tests/playback/tiny_bank.py`); the deviation of every onset from the written place, less the median between two gaps
of the server, in frames of 48 kHz. Then on an outside port of JACK's dummy driver, all parts and the click: how late
each message left, less the median, and notes lost on the way. The peers are the same program with its window too small
to draw anything. A bound is met when its ratio is at most 1.
"""

import argparse
import json
import sys
import tempfile
from array import array
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.stand_playing import BPM, EXERCISE, prepared
from tests.click_train import read_recording
from tests.onsets import click_onsets
from tests.playback.midi_listener import Listener
from tests.playback.tiny_bank import write_tiny_bank
from tests.sound_servers import Pulse, jack_server, pulse_server
from tests.terminal.emulator import Terminal, environment
from tests.terminal.test_stand_on_a_port import on_the_port
from trainer.session.choices import Choices
from trainer.session.memory import SessionMemory

FRAMES_BOUND, P99_BOUND_MS, MAX_BOUND_MS = 64, 1.0, 5.0
RATE = 48_000
STEP = 240
"""Frames by which the server's gaps move everything that comes later; less is not one."""
SIXTEENTH = 15 * RATE / BPM
"""Frames; a gallop is 2, 1, 1 of them."""
TICK = """
[patch.tick]
role = "guitar"
about = "a click, to be measured"
level = 0.0
pan = 0.0

[patch.tick.sounds]
open = { program = 0 }
palm-muted = { program = 0 }
dead = { program = 0 }
harmonic = { program = 0 }
"""
PROGRAM = """
import functools, json, sys
from pathlib import Path
from trainer.playback import port_sink
from trainer.screens.application import run
from trainer.session.own_machine import open_machine
port_sink.PortSink = functools.partial(port_sink.PortSink, options=["--stamps", sys.argv[2]])
made, sinks = open_machine(), []
open_output = made.outputs.open
def opened(port):
    found = open_output(port)
    sinks.append(found.sink)
    return found
made.outputs.open = opened
code = run(made)
sink = sinks[-1]
Path(sys.argv[1]).write_text(json.dumps({"late": getattr(sink, "late", -1), "kind": type(sink).__name__,
    "gaps": getattr(sink, "dropouts", -1)}))
sys.exit(code)
"""


def at_hand(folder: Path) -> Path:
    """The exercise with a click for guitar 1, the bank, and the program."""
    prepared(folder)
    write_tiny_bank(folder / "tiny.sf2")
    settings = folder / "config" / "twinspur"
    (settings / "patches").mkdir(parents=True)
    (settings / "patches" / "tick.toml").write_text(TICK, encoding="utf-8")
    (settings / "config.toml").write_text(
        f'bank = "{folder / "tiny.sf2"}"\n\n[sound]\ndriver = "pulseaudio"\n', encoding="utf-8"
    )
    exercises = folder / "data" / "twinspur" / "exercises"
    ticking = EXERCISE.replace("+++\n\n## Gale", '\n[parts."guitar 1"]\npatch = "tick"\n+++\n\n## Gale')
    (exercises / "full-sail.md").write_text(ticking, encoding="utf-8")
    program = folder / "program.py"
    program.write_text(PROGRAM, encoding="utf-8")
    return program


def remember(folder: Path, *, alone: bool) -> None:
    """How the stand is left: everything heard, or guitar 1 alone without a click."""
    unheard = ("guitar 2", "bass", "drums") if alone else ()
    choices = Choices(count_in=0, bpm=float(BPM), unheard=unheard, click="" if alone else "gallop")
    path = folder / "state" / "twinspur" / "stand.json"
    path.unlink(missing_ok=True)
    memory = SessionMemory(path)
    memory.keep("full-sail", "Gale", choices)
    memory.close()


def played(folder: Path, program: Path, size: tuple[int, int], seconds: float, *, drawn: bool, port: bool) -> None:
    """Let the program play for a while; it leaves its report and its stamps in the folder."""
    words = [str(folder / "report.json"), str(folder / "stamps")]
    terminal = Terminal(str(program), *words, env=environment(folder, PYTHONPATH=str(Path.cwd())), size=size, file=True)
    try:
        terminal.wait("F3 goes on with")
        terminal.press("f3")
        terminal.wait("A guitar 1 mine")
        terminal.wait("synth on" if not port else "silence")
        if port:
            on_the_port(terminal)
        if not drawn:
            terminal.resize(20, 5)
            terminal.read(0.5)
        terminal.press("space")
        terminal.drain(seconds)
        terminal.press("space")
        terminal.drain(0.5)
        terminal.leave()
    finally:
        terminal.close()


def deviations(onsets: NDArray[np.int64]) -> tuple[NDArray[np.float64], int, int]:
    """Frames of each onset from its place, less the median between gaps; how many gaps; how many notes are missing."""
    cells = np.rint(np.diff(onsets) / SIXTEENTH).astype(int)
    place = np.concatenate([[0], np.cumsum(cells)])
    late = onsets - place * SIXTEENTH
    breaks = np.nonzero(np.abs(np.diff(late)) > STEP)[0] + 1
    off = np.concatenate([each - np.median(each) for each in np.split(late, breaks)])
    return off, len(breaks), int(place[-1] // 4 * 3 + (0, 1, 1, 2)[place[-1] % 4]) + 1 - len(onsets)


def sound(pulse: Pulse, folder: Path, program: Path, size: tuple[int, int], seconds: float, *, drawn: bool) -> float:
    """Print one line; answers with the largest deviation."""
    remember(folder, alone=True)
    recording = folder / "recording"
    with pulse.recording(recording):
        played(folder, program, size, seconds, drawn=drawn, port=False)
    onsets = click_onsets(read_recording(recording)[:, 0], round(SIXTEENTH / 2))
    off, gaps, missing = deviations(onsets)
    told = json.loads((folder / "report.json").read_text())
    worst = float(np.abs(off).max())
    p99 = float(np.percentile(np.abs(off), 99))
    print(
        f"{'following' if drawn else 'not drawn':10} {len(onsets):5} notes, {missing} missing  p99 {p99:6.1f}  "
        f"max {worst:6.1f} frames  "
        f"/ bound {worst / FRAMES_BOUND:5.2f}  steps {gaps}  gaps by clock {told['gaps']}  late {told['late']}",
        flush=True,
    )
    return worst


def port(folder: Path, program: Path, size: tuple[int, int], seconds: float, *, drawn: bool) -> tuple[float, float]:
    """Print one line; answers with p99 and the largest lateness, in ms."""
    remember(folder, alone=False)
    with tempfile.TemporaryDirectory() as place, jack_server(Path(place)):
        listener = Listener()
        try:
            played(folder, program, size, seconds, drawn=drawn, port=True)
            notes = len([message for message in listener.notes() if message[0] & 0xF0 == 0x90 and message[2]])
        finally:
            listener.close()
    times = np.array(array("q", (folder / "stamps").read_bytes())).reshape(-1, 2)
    late = (times[:, 1] - times[:, 0]) / 1e6
    jitter = np.abs(late - np.median(late))
    p99, worst = float(np.percentile(jitter, 99)), float(jitter.max())
    print(
        f"{'following' if drawn else 'not drawn':10} {len(late):5} messages, {notes} notes arrived  p99 {p99:6.3f} ms  "
        f"/ bound {p99 / P99_BOUND_MS:5.2f}  max {worst:6.3f} ms  / bound {worst / MAX_BOUND_MS:5.2f}",
        flush=True,
    )
    return p99, worst


def main() -> int:
    """Measure, print, and say whether the bounds are met."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--size", default="200x60")
    arguments = parser.parse_args()
    columns, lines = map(int, arguments.size.split("x"))
    size, met = (columns, lines), True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        program = at_hand(folder)
        print(f"sound, {BPM} bpm, {arguments.size}, PulseAudio's null sink")
        with pulse_server(folder) as pulse:
            for drawn in (False, True):
                met &= sound(pulse, folder, program, size, arguments.seconds, drawn=drawn) <= FRAMES_BOUND
        print(f"port, {BPM} bpm, {arguments.size}, JACK's dummy driver")
        for drawn in (False, True):
            p99, worst = port(folder, program, size, arguments.seconds, drawn=drawn)
            met &= p99 <= P99_BOUND_MS and worst <= MAX_BOUND_MS
    print("bounds met" if met else "bounds NOT met")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
