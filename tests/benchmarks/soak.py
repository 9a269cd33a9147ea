"""Practising for hours: does memory stay flat, and does the playhead stay where the sound is?

Run as `python -m tests.benchmarks.soak [--hours 8] [--minutes 60] [--bpm 190]`.

First a session on a clock that is turned by hand, for so many hours of music: at every quarter of a second the playhead
must be at the place that exact arithmetic gives for the sink's frame, each pass must begin on its exact frame, and
memory after the first hour must stay where it is. Then the real trainer for so many minutes of real time, with only the
click to be heard on PulseAudio's null sink: its clicks are timed by the frames of the sink's monitor, memory is read
each minute. A step of the server's own (a gap, frames that it repeats) moves all clicks after it; steps are counted.
"""

import argparse
import subprocess
import sys
import tempfile
import threading
import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import psutil

from tests.benchmarks.kills import prepared
from tests.screens.music import HandSink, machine
from tests.sound_servers import Pulse, pulse_server
from tests.terminal.emulator import Terminal, environment
from trainer.playback.event import Event, Kind
from trainer.session.actions import SetCountIn, SetTempo, Start, Stop
from trainer.session.choices import Choices
from trainer.session.machine import Sounding
from trainer.session.memory import SessionMemory
from trainer.session.music import LoadedExercise
from trainer.session.session import PracticeSession

RATE = 48_000
FLAT_MIB = 8.0
"""What memory may grow by after the first hour on the turned clock, or the first two minutes of the real one."""
STEP_FRAMES = 256.0
"""A click that is further from its grid than this shows a step of the server."""


class CountingSink(HandSink):
    """A sink that forgets what it has carried out, but for where each pass began."""

    def __init__(self) -> None:
        super().__init__(RATE)
        self.first: list[int] = []
        self.notes = 0

    def begins(self, event: Event) -> None:
        """Count it."""
        self.notes += event.kind is Kind.NOTE_ON
        self.done.clear()


def _resident_mib(pid: int | None = None) -> tuple[float, float]:
    """Resident memory of a process, and of it with all that it started, in MiB."""
    own = psutil.Process(pid)
    alone, all_ = own.memory_info().rss, 0
    for process in (own, *own.children(recursive=True)):
        try:
            all_ += process.memory_info().rss
        except psutil.NoSuchProcess:
            continue
    return alone / 2**20, all_ / 2**20


def on_a_turned_clock(folder: Path, hours: float, bpm: int) -> bool:
    """Practise on a clock turned by hand; prints what was found and answers whether it held."""
    sink = CountingSink()
    around = machine(folder, sink)
    exercise = around.exercises.read(around.exercises.find("salt-road"))
    loaded = LoadedExercise.of(exercise, "Low gate", around.rig)
    session = PracticeSession(around, loaded, Sounding(sink, "recorder"), lambda event: None)
    session.apply(SetCountIn(0))
    session.apply(SetTempo(float(bpm)))
    session.apply(Start())
    session.player.step()
    bars = loaded.piece.bars
    length = bars[-1].end - bars[0].at
    while sink.now() < (session.playhead().began or 10**9):
        sink.run_for(1)
    ahead = session.playhead().place - bars[0].at
    begun, sizes, off, looks = sink.now(), [], Fraction(0), 0
    per_whole = Fraction(60 * RATE, bpm) / bars[0].meter.pulse
    begun_at = time.monotonic()
    for hour in range(1, round(hours) + 1):
        while sink.now() - begun < hour * 3600 * RATE:
            sink.run_for(RATE // 4)
            session.player.step()
            head = session.playhead()  # ahead of the sound by the time that drawing takes, the same all the while
            expected = bars[0].at + (Fraction(sink.now() - begun) / per_whole + ahead) % length
            apart = abs(head.place - expected)
            off, looks = max(off, min(apart, length - apart) * per_whole), looks + 1
        sizes.append(_resident_mib()[0])
    passes = session.state.passes
    session.apply(Stop())
    session.close()
    grown = max(sizes) - sizes[0]
    print(
        f"turned clock: {hours:g} hours at {bpm} bpm in {time.monotonic() - begun_at:.0f} s, {passes} passes, "
        f"{sink.notes} notes; playhead {float(off):.2f} frames from arithmetic at most in {looks} looks; "
        f"memory {sizes[0]:.0f} MiB after an hour, at most {grown:+.1f}",
        flush=True,
    )
    return off <= 1 and grown <= FLAT_MIB


class ClickEar:
    """The first frame of each click in the null sink's monitor, found while it is recorded."""

    def __init__(self, pulse: Pulse, quiet_frames: int) -> None:
        command = ["parec", "--device=null.monitor", "--format=s16le", f"--rate={RATE}", "--channels=1", "--raw"]
        self._process = subprocess.Popen(
            [*command, "--latency-msec=50"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=pulse.environment
        )
        self._quiet, self._frame, self._last = quiet_frames, 0, -quiet_frames
        self.onsets: list[int] = []

    def hear(self) -> None:
        """Take in what came since the last time; call it often, and from one thread."""
        assert self._process.stdout is not None
        while self._process.poll() is None:
            data = self._process.stdout.read(RATE // 10 * 2)
            samples = np.frombuffer(data, dtype="<i2")
            for frame in (np.nonzero(np.abs(samples) > 1500)[0] + self._frame).tolist():
                if frame - self._last > self._quiet:
                    self.onsets.append(frame)
                self._last = frame
            self._frame += len(samples)

    def close(self) -> None:
        """End recording."""
        self._process.terminate()
        self._process.wait()


def deviations(onsets: list[int], beat: float) -> tuple[float, float, int, int]:
    """How far clicks are from an even grid between steps: median and most in frames, how many steps, clicks missing."""
    frames = np.array(onsets, dtype=np.float64)
    place = np.concatenate([[0.0], np.cumsum(np.rint(np.diff(frames) / beat))])
    late = frames - place * beat
    breaks = np.nonzero(np.abs(np.diff(late)) > STEP_FRAMES)[0] + 1
    off = np.abs(np.concatenate([each - np.median(each) for each in np.split(late, breaks)]))
    return float(np.median(off)), float(off.max()), len(breaks), int(place[-1]) + 1 - len(onsets)


def in_real_time(folder: Path, minutes: float, bpm: int) -> bool:
    """Let the trainer play on the null sink; prints what was found and answers whether it held."""
    prepared(folder)
    path = folder / "state" / "twinspur" / "stand.json"
    path.unlink(missing_ok=True)
    memory = SessionMemory(path)
    parts = ("guitar 1", "guitar 2", "bass", "drums")
    memory.keep("quay-iron", "Winch", Choices(count_in=0, bpm=float(bpm), unheard=parts, click="beats"))
    memory.close()
    (folder / "config" / "twinspur").mkdir(parents=True)
    (folder / "config" / "twinspur" / "config.toml").write_text('[sound]\ndriver = "pulseaudio"\n', "utf-8")
    beat = 60 / bpm * RATE
    with pulse_server(folder) as pulse:
        terminal = Terminal("trainer", env=environment(folder), size=(120, 40))
        try:
            terminal.wait("Shelf")
            terminal.press("f3")
            terminal.wait("mine")
            terminal.wait("synth on")
            ear = ClickEar(pulse, round(beat / 2))
            hearing = threading.Thread(target=ear.hear, daemon=True)
            hearing.start()
            terminal.press("space")
            sizes = []
            end = time.monotonic() + 60 * minutes
            while time.monotonic() < end:
                terminal.drain(min(60.0, max(end - time.monotonic(), 0.1)))
                sizes.append(_resident_mib(terminal.child.pid))
                terminal.seen = b""
            terminal.press("space")
            terminal.drain(1.0)
            ear.close()
            hearing.join()
            left = terminal.leave()
        finally:
            terminal.close()
    settled = sizes[min(2, len(sizes) - 1) :]
    grown = max(own for own, _ in settled) - settled[0][0]
    middle, most, steps, missing = deviations(ear.onsets, beat)
    print(
        f"real time: {minutes:g} minutes at {bpm} bpm, {len(ear.onsets)} clicks, {missing} missing, "
        f"{steps} steps of the server; off the grid between steps: median {middle:.1f}, most {most:.1f} frames; "
        f"memory {settled[0][0]:.0f} MiB ({settled[0][1]:.0f} with its processes), at most {grown:+.1f}; "
        f"left with {left}",
        flush=True,
    )
    return missing == 0 and most <= 64 and grown <= FLAT_MIB and left == 0


def main() -> int:
    """Soak it; 1 where something did not hold."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--hours", type=float, default=8, help="of music on the turned clock; 0 for none")
    parser.add_argument("--minutes", type=float, default=60, help="of real time; 0 for none")
    parser.add_argument("--bpm", type=int, default=190)
    asked = parser.parse_args()
    held = True
    with tempfile.TemporaryDirectory() as name:
        if asked.hours:
            (Path(name) / "turned").mkdir()
            held &= on_a_turned_clock(Path(name) / "turned", asked.hours, asked.bpm)
        if asked.minutes:
            (Path(name) / "real").mkdir()
            held &= in_real_time(Path(name) / "real", asked.minutes, asked.bpm)
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
