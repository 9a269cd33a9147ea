"""How soon the stand's verdict comes, and whether listening and drawing disturb each other.

Run as `python -m tests.benchmarks.live_verdict [--passes 20] [--bars 4] [--size 200x60]`. Every verdict is told as it
comes; what the screen showed is read at the end, which takes about as long as the passes did.

The program runs in a pseudo-terminal, its stand playing gallops at 190 bpm into one null sink of PulseAudio with the
full screen following. Another process plays the part into a second null sink, at the times at which it is heard on the
stand, every second pass without one note; the stand listens to that sink's monitor. Printed are, from the end of the
last note to the verdict in the log and on the screen of the emulator at the other end of the terminal: median, 95th
percentile, worst; frames that the sound card dropped meanwhile; what was found of the notes that were left out; and the
playhead's error while it listens, with the lateness of a process that does nothing but sleep beside it; and the memory
of the process that judges.

`--bars 24` makes passes of half a minute, `--bars 470 --passes 1` one of ten, in which the other process begins late.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from statistics import median

from tests.benchmarks.stand_playing import SLEEPER, prepared
from tests.sound_servers import Pulse, pulse_server
from tests.terminal.emulator import Terminal, _without_queries, environment

BOUND_MS, HEAD_BOUND_MS = 300.0, 40.0
BPM = 190
FIGURE = "1 & a 2 & a 3 & a 4 & a"
FRETS = ("0 0 0 0 0 0 3 3 3 2 2 2", "0 0 0 3 3 3 5 5 5 3 2 0")
STROKES = 12
LEFT_OUT = 17
"""The stroke of every second pass that is not played."""
WORDS = (": ✓ clean", ": ✗ not clean", ": not judged")
UNHEARD, LONG_S = 1, 60.0
"""Passes before the other process begins; longer ones it joins a little late instead."""
JOINS_S = 3.0
"""How long it takes to begin."""
PATIENCE_S = 20.0
"""How long after its end the last verdict is waited for."""

EXERCISE = """+++
title = "Full Sail"
id = "full-sail"
key = "E aeolian"
tempo = {{ start = {bpm}, target = {bpm} }}
+++

## Gale

{tabs}

```harmony guitar 2
follows = "guitar 1"
interval = "third above"
```
"""

PROGRAM = """
import json, sys, time
from pathlib import Path
from trainer.screens.application import run
from trainer.session.own_machine import open_machine
from trainer.session.live_listening import LiveListening
from trainer.session.session import PracticeSession
made, notes, ears = open_machine(), Path(sys.argv[1]).open("w", buffering=1), []
def note(**what):
    notes.write(json.dumps(what) + "\\n")
open_input = made.inputs.open
def opened(name):
    ears.append(open_input(name))
    return ears[-1]
from trainer.listening.worker_judge import WorkerJudge
over, verdict, judge = LiveListening.pass_over, PracticeSession._heard, WorkerJudge.judge
in_progress = LiveListening.in_progress
told, took = set(), [0.0]
def asks(self):
    played = in_progress(self)
    if played is not None and not told:
        told.add(played.start)
        note(first=played.begins, lasts=played.seconds)
    return played
def judges(self, *asked):
    began = time.monotonic()
    try:
        return judge(self, *asked)
    finally:
        took[0] = time.monotonic() - began
LiveListening.in_progress, WorkerJudge.judge = asks, judges
def pass_over(self, state, played, report, ago):
    note(uuid=played.uuid, begins=time.monotonic() - ago, seconds=played.seconds)
    over(self, state, played, report, ago)
def take_verdict(self, heard):
    verdict(self, heard)
    measured = heard.judgement.verdict.measured
    note(uuid=heard.of.played.uuid, logged=time.monotonic(), took=took[0],
         outcome=str(heard.judgement.verdict.outcome),
         missed=measured.missed if measured else None, told=[each.sentence for each in heard.judgement.verdict.reasons],
         warned=list(heard.judgement.warnings))
LiveListening.pass_over, PracticeSession._heard = pass_over, take_verdict
made.inputs.open = opened
code = run(made)
note(dropped=ears[-1].dropped if ears else -1)
sys.exit(code)
"""

GUITARIST = """
import sys, time
import numpy as np, sounddevice
path, begins = sys.argv[1], float(sys.argv[2])
samples, at = np.load(path), [0]
late = []
def give(out, frames, times, status):
    out[:, 0] = 0
    heard = time.monotonic() + times.outputBufferDacTime - times.currentTime
    first = at[0] or round((heard - begins) * 48000)
    if at[0] == 0 and first + frames <= 0:
        return
    skip = max(0, -first)
    piece = samples[max(first, 0):first + frames]
    out[skip:skip + len(piece), 0] = piece
    at[0] = first + frames
    late.append(status.output_underflow)
with sounddevice.OutputStream(samplerate=48000, channels=1, device="pulse", latency=0.25, callback=give) as stream:
    while time.monotonic() < begins + len(samples) / 48000 + 0.5:
        time.sleep(0.05)
print(sum(late))
"""


def exercise(bars: int) -> str:
    """A riff of so many bars, two guitars, bass and drums."""
    systems = []
    for first in range(0, bars, 4):
        frets = [FRETS[(first + bar) // 2 % 2] for bar in range(min(4, bars - first))]
        empty = ["%"] * (len(frets) - 1)
        row, rest = " | ".join(frets), " | ".join(empty)
        systems.append((f"count | {' | '.join([FIGURE] * len(frets))} |", row, rest))
    guitar = "\n\n".join(f"{count}\n6     | {row} |" for count, row, _ in systems)
    bass = "\n\n".join(f"{count}\n4     | {row} |" for count, row, _ in systems)
    drums = "\n\n".join(
        f"count | 1 e & a 2 e & a 3 e & a 4 e & a{' | ' + rest if rest else ''} |\n"
        f"hat   | x   x   x   x   x   x   x   x  {' |' * len(rest.split('|') if rest else [])} |\n"
        f"snare |         x               x      {' |' * len(rest.split('|') if rest else [])} |\n"
        f"kick  | x x x x x x x x x x x x x x x x{' |' * len(rest.split('|') if rest else [])} |"
        for _, _, rest in systems
    )
    tabs = "\n\n".join(
        f"```tab {part}\n{rows}\n```" for part, rows in (("guitar 1", guitar), ("bass", bass), ("drums", drums))
    )
    return EXERCISE.format(bpm=BPM, tabs=tabs)


def played(folder: Path, bars: int, passes: int) -> Path:
    """What the other process plays: pass after pass, every second one without one stroke."""
    import numpy as np

    from tests.listening.plucked import player, record
    from trainer.arranging.realise import realise_exercise
    from trainer.listening.written_part import written_part
    from trainer.notation.files import read_file

    file = folder / "data" / "twinspur" / "exercises" / "full-sail.md"
    riff = realise_exercise(read_file(file, (), file.name), file.name).riffs[0]
    written = written_part(riff, "guitar 1", Fraction(BPM))
    notes = []
    for number in range(passes):
        own = player(written, number * float(written.length), 3.0, seed=number)
        notes += own if number % 2 == 0 else own[:LEFT_OUT] + own[LEFT_OUT + 1 :]
    path = folder / "played.npy"
    np.save(path, record(notes, passes * float(written.length) + 0.5, seed=7).samples)
    return path


def lines(path: Path) -> list[dict[str, object]]:
    """What the program wrote down so far."""
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def measure(folder: Path, pulse: Pulse, size: tuple[int, int], bars: int, passes: int) -> bool:
    """Print one size's figures; answers whether the bounds are met."""
    program, notes = folder / "program.py", folder / "notes.jsonl"
    program.write_text(PROGRAM, encoding="utf-8")
    notes.unlink(missing_ok=True)
    sound = played(folder, bars, passes)
    env = environment(folder, PYTHONPATH=str(Path.cwd()), PULSE_SINK="null", PULSE_SOURCE="room.monitor")
    terminal = Terminal(str(program), str(notes), env=env, size=size, file=True)
    try:
        _listen(terminal)
        terminal.press("space")
        while not lines(notes):
            terminal.drain(0.2)
        first = lines(notes)[0]
        begins, seconds = float(first["first"]), float(first["lasts"])  # type: ignore[arg-type]
        unheard = UNHEARD if seconds < LONG_S else 0
        start = begins + unheard * seconds
        print(f"{bars} bars: passes of {seconds:.2f} s, the first of {passes} that are played begins in "
              f"{max(JOINS_S, start - time.monotonic()):.0f} s", flush=True)  # fmt: skip
        script = folder / "guitarist.py"
        script.write_text(GUITARIST, encoding="utf-8")
        guitarist = subprocess.Popen(
            [sys.executable, str(script), str(sound), str(start)],
            env={**pulse.environment, "PULSE_SINK": "room"}, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        long = (passes + unheard) * seconds
        sleeper = subprocess.Popen([sys.executable, "-c", SLEEPER, str(long)], stdout=subprocess.PIPE, text=True)
        came, memory = _came(terminal, notes, start + passes * seconds + 2, start)
        late = [float(figure) for figure in sleeper.communicate()[0].split()]
        underflows = guitarist.communicate()[0].split()[0]
        terminal.leave()
    finally:
        terminal.close()
    told = lines(notes)
    print(f"The process that judges took {memory / 1e6:.0f} MB at most. Reading what the screen showed.", flush=True)
    slipped = [float(each["begins"]) - begins for each in told if "begins" in each][:1]  # type: ignore[arg-type]
    if slipped:
        print(f"In the first pass the sound device's clock fell {1000 * slipped[0]:.0f} ms behind the machine's.")
    return _print(terminal, came, told, start, seconds, size, bars, late, underflows)


def _listen(terminal: Terminal) -> None:
    terminal.wait("Shelf")
    terminal.press(*"full")
    terminal.wait(lambda text: "Full Sail" in text and "Bell Glass" not in text)
    terminal.press("enter")
    terminal.wait("A guitar 1 mine")
    terminal.wait("synth on")
    while "count-in none" not in " ".join(terminal.text.split()):
        terminal.press("k")
    terminal.press("D", "L")
    terminal.wait("Which input is your guitar at?")
    terminal.press("enter")
    terminal.wait("enter: listen")
    terminal.press("enter")
    terminal.wait("play a pass")
    terminal.drain(1.5)


def _came(terminal: Terminal, notes: Path, until: float, start: float) -> tuple[list[tuple[float, bytes]], int]:
    """What the program wrote, with the moment at which it came, and the most bytes that the judging process took."""
    import pexpect

    came, memory, said, looks, last = [], 0, 0, 0.0, False
    while time.monotonic() < until or (not last and time.monotonic() < until + PATIENCE_S):
        try:
            came.append((0.0, terminal.child.read_nonblocking(1 << 20, timeout=0.1)))
            came[-1] = (time.monotonic(), came[-1][1])
        except pexpect.TIMEOUT:
            continue
        if time.monotonic() > looks:  # seldom: this is a process that measures
            looks = time.monotonic() + 1.0
            memory = max(memory, _judging_bytes(terminal.child.pid))
            told = [each for each in lines(notes) if "logged" in each or "begins" in each]
            for each in told[said:]:
                _say(each, told, start)
            said = len(told)
            ends = {it["uuid"]: float(it["begins"]) + float(it["seconds"]) for it in told if "begins" in it}  # type: ignore[arg-type]
            last = any("logged" in it and ends.get(it["uuid"], 0.0) > until - 3 for it in told)
    return came, memory


def _say(each: dict[str, object], told: list[dict[str, object]], start: float) -> None:
    """Print a verdict as it comes."""
    if "logged" in each:
        end = next(float(it["begins"]) + float(it["seconds"]) for it in told  # type: ignore[arg-type]
                   if "begins" in it and it["uuid"] == each["uuid"])  # fmt: skip
        print(f"  pass to {end - start:6.1f} s: {each['outcome']}, {1000 * (float(each['logged']) - end):.0f} ms "  # type: ignore[arg-type]
              f"after its end, {1000 * float(each['took']):.0f} of them judging", flush=True)  # type: ignore[arg-type]  # fmt: skip
        for sentence in (*each["told"], *each["warned"]):  # type: ignore[misc]
            print(f"    {sentence}", flush=True)


def _judging_bytes(owner: int) -> int:
    """The memory of the process that judges, where it is one."""
    import psutil

    for child in psutil.Process(owner).children():
        with suppress(psutil.Error):
            if any("judge_worker" in word for word in child.cmdline()):
                return int(child.memory_info().rss)
    return 0


def _print(
    terminal: Terminal, came: list[tuple[float, bytes]], told: list[dict[str, object]], start: float, seconds: float,
    size: tuple[int, int], bars: int, late: list[float], underflows: str,
) -> bool:  # fmt: skip
    ends = {str(each["uuid"]): float(each["begins"]) + float(each["seconds"]) for each in told if "begins" in each}  # type: ignore[arg-type]
    logged = [each for each in told if "logged" in each and ends.get(str(each["uuid"]), 0) > start + 0.5 * seconds]
    shown: list[tuple[float, str]] = []
    cells: list[tuple[float, tuple[int, int]]] = []
    heads: dict[int, int | None] = {}
    usual = terminal.screen.buffer[1][0].bg
    for at, data in came:  # the emulator is slower than the program
        terminal.screen.dirty.clear()
        terminal.stream.feed(_without_queries(data))
        for y in sorted(terminal.screen.dirty & set(range(1, terminal.screen.lines))):
            line = terminal.screen.buffer[y]
            text = "".join(line[x].data for x in range(min(80, terminal.screen.columns)))
            word = next((word for word in WORDS if word in text), "")
            if word and (not shown or shown[-1][1] != word):
                shown.append((at, word))
            heads[y] = next((x for x in range(terminal.screen.columns) if line[x].bg != usual or line[x].reverse), None)
        cell = next(((y, x) for y, x in sorted(heads.items()) if x is not None), None)
        if cell is not None and (not cells or cells[-1][1] != cell):
            cells.append((at, cell))
    to_log = [1000 * (float(each["logged"]) - ends[str(each["uuid"])]) for each in logged]  # type: ignore[arg-type]
    to_screen = []
    for each in logged:
        after = next((at for at, _ in shown if at > float(each["logged"]) - 0.02), None)  # type: ignore[arg-type]
        if after is not None and after < ends[str(each["uuid"])] + min(seconds, 2.0):
            to_screen.append(1000 * (after - ends[str(each["uuid"])]))
    found = sum(bool(each["missed"]) for each in logged)
    dropped = next((each["dropped"] for each in told if "dropped" in each), -1)
    name = f"{size[0]}x{size[1]}, {bars} bars"
    print(f"{name}: {len(logged)} passes of {seconds:.2f} s judged, {found} with the note left out; frames dropped "
          f"{dropped} times; the other process ran dry {underflows} times")  # fmt: skip
    met = dropped == 0
    for what, values in (("in the log", to_log), ("on the screen", to_screen)):
        if not values:
            print(f"  {what}: nothing")
            met = False
            continue
        values.sort()
        high = values[min(len(values) - 1, int(0.95 * len(values)))]
        print(f"  {what:13} median {median(values):5.0f} ms  95 % {high:5.0f}  worst {values[-1]:5.0f}  of {BOUND_MS:g}"
              f"  ({len(values)} passes)")  # fmt: skip
        met &= high <= BOUND_MS
    return met & _head(cells, told, seconds, bars, late)


def _head(
    cells: list[tuple[float, tuple[int, int]]], told: list[dict[str, object]], seconds: float, bars: int,
    late: list[float],
) -> bool:  # fmt: skip
    """The playhead's error: from the time of a column's note to the playhead on it."""
    begins = [float(each["begins"]) for each in told if "begins" in each]  # type: ignore[arg-type]
    places = sorted({cell for _, cell in cells})
    from collections import Counter

    counted = Counter(line for _, (line, _) in cells)
    usual = {line for line, times in counted.items() if times > len(cells) // (2 * len(counted) + 5)}
    places = [cell for cell in places if cell[0] in usual]
    columns = STROKES * bars
    if len(places) != columns:
        print(f"  playhead: seen on {len(places)} columns, not on {columns}: the screen scrolls")
        return True
    beat = seconds / (bars * 4)
    at_beat = (0.0, 0.5, 0.75)
    errors = []
    index = {cell: n for n, cell in enumerate(places)}
    for at, cell in cells:
        if cell not in index:
            continue
        column = index[cell]
        offset = beat * (column // 3 + at_beat[column % 3])
        near = min((abs(at - begin - offset) for begin in begins), default=9.0)
        if near < seconds / 4:
            errors.append(1000 * near)
    errors.sort()
    worst = errors[int(0.99 * len(errors))]
    print(f"  playhead      median {median(errors):5.1f} ms  99 % {worst:5.1f}  worst {errors[-1]:5.1f}  of "
          f"{HEAD_BOUND_MS:g}; a process that only sleeps: median {late[0]:.1f}  99 % {late[1]:.1f}  worst "
          f"{late[2]:.1f}"
          " late")  # fmt: skip
    return worst <= HEAD_BOUND_MS


def main() -> int:
    """Measure, print, and say whether the bounds are met."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--passes", type=int, default=20)
    parser.add_argument("--bars", type=int, default=4)
    parser.add_argument("--size", default="200x60")
    arguments = parser.parse_args()
    columns, rows = map(int, arguments.size.split("x"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        prepared(folder)
        (folder / "data" / "twinspur" / "exercises" / "full-sail.md").write_text(exercise(arguments.bars), "utf-8")
        settings = folder / "config" / "twinspur"
        settings.mkdir(parents=True)
        (settings / "config.toml").write_text('[listening]\ndevice = "pulse"\n', "utf-8")
        with pulse_server(folder) as pulse:
            made = ["pactl", "load-module", "module-null-sink", "sink_name=room", "rate=48000"]
            subprocess.run(made, env=pulse.environment, check=True, capture_output=True)
            keeper = subprocess.Popen(
                ["parec", "--device=room.monitor", "--latency-msec=20"],
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=pulse.environment,
            )  # fmt: skip
            try:
                met = measure(folder, pulse, (columns, rows), arguments.bars, arguments.passes)
            finally:
                keeper.terminate()
                keeper.wait(5)
    print("bounds met" if met else "bounds NOT met")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
