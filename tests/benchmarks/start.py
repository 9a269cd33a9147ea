"""How fast the commands start, and how they bear many files and long ones.

Run as `python -m tests.benchmarks.start [--runs 15] [--files 10000] [--bars 2000]`.

Start-up times are of whole processes that find their byte code, beside `python -c pass` in turn with them; the bound
of `check` is stated for a machine on which that takes 20 ms, so it is scaled by what it takes here. A bound is met when
the ratio is at most 1.
"""

import argparse
import os
import statistics
import subprocess
import sys
import sysconfig
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.byte_code import with_byte_code
from tests.benchmarks.made import long_exercise
from trainer.music.problem import ProblemsError
from trainer.notation.library import Library
from trainer.notation.read import read
from trainer.places import bundled
from trainer.playback.piece import Piece
from trainer.playback.timeline import Timeline
from trainer.sounds.load_patches import load_patches

PROGRAM = Path(sysconfig.get_path("scripts")) / "twinspur"


def row(name: str, value: float, bound: float, unit: str = "ms") -> None:
    """Print one figure beside its bound."""
    print(f"{name:<58} {value:9.1f} {unit}   bound {bound:9.1f}   ratio {value / bound:5.2f}")


def timed(run: Callable[[], object]) -> float:
    """Milliseconds a call takes."""
    begun = time.perf_counter()
    run()
    return 1000 * (time.perf_counter() - begun)


def process(environment: dict[str, str], *words: str) -> Callable[[], object]:
    """A call that runs a whole process."""
    return lambda: subprocess.run(words, capture_output=True, check=True, env=environment)


def starts(runs: int, environment: dict[str, str]) -> None:
    """Whole processes, in turn with the peer."""
    file = str(bundled("exercises") / "iron-causeway.md")
    calls = {
        "pass": process(environment, sys.executable, "-c", "pass"),
        "help": process(environment, str(PROGRAM), "--help"),
        "check": process(environment, str(PROGRAM), "check", file),
    }
    took: dict[str, list[float]] = {name: [] for name in calls}
    for run in range(runs + 1):
        for name, call in calls.items():
            milliseconds = timed(call)
            if run:  # the first ones leave byte code
                took[name].append(milliseconds)
    median = {name: statistics.median(times) for name, times in took.items()}
    print(f"python -c pass: {median['pass']:.1f} ms (median of {runs}, {min(took['pass']):.1f} at best)")
    row("twinspur --help, against twice python -c pass", median["help"], 2 * median["pass"])
    row("twinspur check FILE, against 250/20 of python -c pass", median["check"], 12.5 * median["pass"])


def many(files: int, environment: dict[str, str]) -> None:
    """Listing many files, the first time and when nothing changed."""
    sources = [path.read_text("utf-8") for path in bundled("exercises").glob("*.md") if path.name != "README.md"]
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "exercises"
        for number in range(files):
            path = shelf / f"{number // 500:02}" / f"exercise-{number}.md"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(sources[number % len(sources)], "utf-8")
        config = Path(folder) / "twinspur" / "config.toml"
        config.parent.mkdir()
        config.write_text(f'folders = ["{shelf}"]\n', "utf-8")
        homes = {f"XDG_{name}_HOME": folder for name in ("CONFIG", "DATA", "STATE", "CACHE")}
        call = process(environment | homes, str(PROGRAM), "list")
        row(f"twinspur list, {files} files, nothing remembered", timed(call), 3000)
        row(f"twinspur list, {files} files, nothing changed", statistics.median(timed(call) for _ in range(5)), 500)
        assert len(Library([shelf]).heads()) == files


def long(bars: int) -> None:
    """Reading a long exercise, and its timeline."""
    rig = load_patches()
    took: dict[str, list[float]] = {"read": [], "timeline": []}
    for seed in range(5):
        text = long_exercise(bars, seed)
        took["read"].append(timed(lambda text=text: read(text)))
        try:
            exercise = read(text)
        except ProblemsError as error:
            raise AssertionError(error) from None
        piece = Piece.of(exercise, exercise.played)
        took["timeline"].append(timed(lambda piece=piece: Timeline.of(piece, rig)))
    row(f"reading {bars} bars of four parts", statistics.median(took["read"]), 1500)
    row(f"the timeline of {bars} bars of four parts", statistics.median(took["timeline"]), 500)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--bars", type=int, default=2000)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        environment = with_byte_code(dict(os.environ), Path(folder))
        starts(arguments.runs, environment)
        many(arguments.files, environment)
    long(arguments.bars)


if __name__ == "__main__":
    main()
