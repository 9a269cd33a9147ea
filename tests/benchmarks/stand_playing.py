"""What the stand costs and how exact it is while it plays at 190 bpm with the screen following.

Run as `python -m tests.benchmarks.stand_playing [--seconds 20] [--size 200x60 80x24]`.

The program runs in a pseudo-terminal, on two gallops, bass and drums. First on PulseAudio's null sink with the
built-in bank: CPU of the whole program (percent of one core, its children included), bytes to the terminal, notes that
came too late for the synth, and the device's own gaps. The peers are the same program with its window too small to draw
(sound alone), and a Textual application that repaints as much text 15 times a second. Then on a sink that writes down
when each event's time came: the playhead's error, from a note's time to the moment an emulator at the other end of the
terminal has the playhead on the note's column; beside it, how late a process wakes that does nothing but sleep.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

import psutil

from tests.sound_servers import pulse_server
from tests.terminal.emulator import Terminal, environment
from trainer.practice.cautions import CAUTIONS
from trainer.practice.log import Log
from trainer.practice.sittings import mark_seen
from trainer.session.own_machine import local_now

CPU_BOUND, HEAD_BOUND_MS = 35.0, 40.0
BPM = 190
GALLOP = "0 0 0 0 0 0 3 3 3 2 2 2"
EXERCISE = f"""+++
title = "Full Sail"
id = "full-sail"
key = "E aeolian"
tempo = {{ start = {BPM}, target = {BPM} }}
+++

## Gale

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a |
6     | {GALLOP} | {GALLOP} | {GALLOP} | {GALLOP} |
mute  | = = = = = = = = = = = = | = = = = = = = = = = = = | = = = = = = = = = = = = | = = = = = = = = = = = = |
pick  | d d u d d u d d u d d u | d d u d d u d d u d d u | d d u d d u d d u d d u | d d u d d u d d u d d u |
```

```harmony guitar 2
follows = "guitar 1"
interval = "third above"
```

```tab bass
count | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a |
4     | {GALLOP} | {GALLOP} | {GALLOP} | {GALLOP} |
```

```tab drums
count | 1 e & a 2 e & a 3 e & a 4 e & a | % | % | % |
hat   | x   x   x   x   x   x   x   x   |   |   |   |
snare |         x               x       |   |   |   |
kick  | x x x x x x x x x x x x x x x x |   |   |   |
```
"""

PROGRAM = """
import json, sys
from pathlib import Path
from trainer.screens.application import run
from trainer.session.own_machine import open_machine
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

PEER = """
from textual.app import App
from textual.widgets import Static
class Painter(App):
    def compose(self):
        self.text = Static()
        yield self.text
    def on_mount(self):
        self.n = 0
        self.set_interval(1 / 15, self.paint)
    def paint(self):
        self.n += 1
        self.text.update("\\n".join("0-3-2-" * (self.size.width // 6) + str(self.n) for _ in range(self.size.height)))
Painter().run()
"""


@contextmanager
def stand(folder: Path, program: Path, report: Path, size: tuple[int, int]) -> Iterator[Terminal]:
    """The program with the exercise on its stand."""
    terminal = Terminal(
        str(program), str(report), env=environment(folder, PYTHONPATH=str(Path.cwd())), size=size, file=True
    )
    try:
        terminal.wait("Shelf")
        terminal.press(*"full")
        terminal.wait(lambda text: "Full Sail" in text and "Bell Glass" not in text)
        terminal.press("enter")
        terminal.wait("A guitar 1 mine")
        terminal.wait(lambda text: "synth on" in text or "recorder" in text)
        while "count-in none" not in " ".join(terminal.text.split()):
            terminal.press("k")
        yield terminal
    finally:
        terminal.close()


def cpu_of(process: psutil.Process) -> float:
    """Seconds of CPU of a process and its children."""
    times = [each.cpu_times() for each in (process, *process.children(recursive=True))]
    return sum(each.user + each.system for each in times)


def watch(terminal: Terminal, seconds: float) -> tuple[float, float]:
    """Percent of one core, and bytes a second, while the program goes on."""
    process = psutil.Process(terminal.child.pid)
    began, cpu, sent = time.monotonic(), cpu_of(process), len(terminal.seen)
    terminal.drain(seconds)
    took = time.monotonic() - began
    return 100 * (cpu_of(process) - cpu) / took, (len(terminal.seen) - sent) / took


def prepared(folder: Path) -> None:
    """The exercise, and the cautions put away."""
    exercises = folder / "data" / "twinspur" / "exercises"
    exercises.mkdir(parents=True, exist_ok=True)
    (exercises / "full-sail.md").write_text(EXERCISE, encoding="utf-8")
    log = Log.open(folder / "data" / "twinspur" / "log.sqlite", now=local_now)
    for caution in CAUTIONS:
        log.change(mark_seen, caution.id, 1)
    log.close()


def measure_cpu(folder: Path, size: tuple[int, int], seconds: float) -> float:
    """Print one size's line; answers with the percent."""
    program, report, peer = folder / "program.py", folder / "report.json", folder / "peer.py"
    program.write_text(PROGRAM, encoding="utf-8")
    peer.write_text(PEER, encoding="utf-8")
    with stand(folder, program, report, size) as terminal:
        terminal.press("space")
        terminal.drain(2)
        percent, rate = watch(terminal, seconds)
        terminal.resize(20, 5)
        terminal.drain(1)
        alone, _ = watch(terminal, seconds / 2)
        terminal.leave()
    told = json.loads(report.read_text())
    painter = Terminal(str(peer), env=environment(folder), size=size, file=True)
    painter.drain(1.5)
    painting, _ = watch(painter, seconds / 2)
    painter.close()
    name = f"{size[0]}x{size[1]}"
    print(
        f"{name:9} {percent:6.1f} %  of {CPU_BOUND:g}  {alone:6.1f} % sound alone  {painting:6.1f} % peer repainting "
        f"({percent / painting:4.2f})  {rate / 1000:6.1f} kB/s  late {told['late']}  gaps {told['gaps']}  "
        f"{told['kind']}"
    )
    return percent


SLEEPER = """
import sys, time
late, end = [], time.monotonic() + float(sys.argv[1])
while time.monotonic() < end:
    due = time.monotonic() + 0.02
    time.sleep(0.02)
    late.append(time.monotonic() - due)
late.sort()
print(1000 * late[len(late) // 2], 1000 * late[int(0.99 * len(late))], 1000 * late[-1])
"""


def measure_head(folder: Path, size: tuple[int, int], seconds: float) -> float:
    """Print one size's line; answers with the 99th percentile of the playhead's error, in ms."""
    notes = folder / f"notes-{size[0]}.jsonl"
    program = Path("tests/terminal/recorded_program.py").resolve()
    with stand(folder, program, notes, size) as terminal:
        terminal.press("space")
        sleeper = subprocess.Popen([sys.executable, "-c", SLEEPER, str(seconds)], stdout=subprocess.PIPE, text=True)
        seen = terminal.follow(seconds)
        terminal.leave()
        late = [float(figure) for figure in sleeper.communicate()[0].split()]
    lines = [json.loads(line) for line in notes.read_text().splitlines()]
    origin = next(line[0] for line in lines if line[1] == "ORIGIN")
    onsets = sorted({round(origin + line[0], 5) for line in lines if line[1:3] == ["NOTE_ON", "guitar 1"]})
    errors = sorted(_errors(onsets, seen))
    worst = errors[int(0.99 * len(errors))]
    print(
        f"{size[0]}x{size[1]:<5} median {median(errors):5.1f} ms  p99 {worst:5.1f}  max {errors[-1]:5.1f} "
        f"of {HEAD_BOUND_MS:g}  ({len(errors)} columns of {len(onsets)} notes); a process that only sleeps, meanwhile: "
        f"median {late[0]:.1f}  p99 {late[1]:.1f}  max {late[2]:.1f} late"
    )
    return worst


def _errors(onsets: list[float], seen: list[tuple[float, tuple[int, int]]]) -> Iterator[float]:
    """For each change of the playhead the time since the note of that column.

    A pass has 48 columns, which stand in the order of lines and cells: the cell tells which of them it is.
    """
    lines = {line for line, times in Counter(line for _, (line, _) in seen).items() if times > len(seen) // 5}
    seen = [(at, cell) for at, cell in seen if cell[0] in lines]  # not what stood there for a part of one frame
    cells = sorted({cell for _, cell in seen})
    if len(cells) != 48:
        raise RuntimeError(f"the playhead was seen on {len(cells)} columns, not on 48")
    index = {cell: n for n, cell in enumerate(cells)}
    for at, cell in seen:
        column = index[cell]
        near = min((n for n in range(column, len(onsets), 48)), key=lambda n: abs(onsets[n] - at), default=None)
        if near is not None and abs(onsets[near] - at) < 1:
            yield 1000 * abs(at - onsets[near])


def main() -> int:
    """Measure, print, and say whether the bounds are met."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--size", nargs="+", default=["200x60", "80x24"])
    arguments = parser.parse_args()
    sizes = [tuple(map(int, size.split("x"))) for size in arguments.size]
    met = True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        prepared(folder)
        with pulse_server(folder):
            for columns, lines in sizes:
                met &= measure_cpu(folder, (columns, lines), arguments.seconds) <= CPU_BOUND
        print("playhead, from the note to the emulator's screen")
        met &= measure_head(folder, (200, 60), arguments.seconds) <= HEAD_BOUND_MS
    print("bounds met" if met else "bounds NOT met")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
