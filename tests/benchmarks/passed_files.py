"""Which files a key press passes: `python -m tests.benchmarks.passed_files [KEY …]`; by default "up", one bpm faster.

The stand is opened on a recording sink, an exercise is played, the key is pressed, and every file of `trainer` in which
a function runs in the screen's thread until all is drawn is listed. What the playhead's timer runs by itself in the
same time is left out.
"""

import argparse
import asyncio
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from types import FrameType
from typing import Any

from tests.screens import music
from trainer.screens.application import TwinspurApp

ROOT = Path(__file__).parents[2] / "trainer"
IDLE_S = 1.0


class Trace:
    """Collects the files of `trainer` in which functions are entered, in this thread, while the block runs."""

    def __init__(self) -> None:
        self.files: list[str] = []

    def __enter__(self) -> "Trace":
        sys.setprofile(self._entered)
        return self

    def __exit__(self, *_: object) -> None:
        sys.setprofile(None)

    def _entered(self, frame: FrameType, event: str, _argument: object) -> None:
        path = Path(frame.f_code.co_filename)
        if event == "call" and path.is_relative_to(ROOT):
            name = path.relative_to(ROOT).as_posix()
            if name not in self.files:
                self.files.append(name)


async def passed(keys: Sequence[str]) -> dict[str, list[str]]:
    """For each key the files it passes, in the order of their first call."""
    with tempfile.TemporaryDirectory() as folder:
        make: Callable[..., Any] = getattr(music, "machine", None) or music.wiring  # type: ignore[attr-defined]
        app = TwinspurApp(make(Path(folder)), "stand")
        found: dict[str, list[str]] = {}
        async with app.run_test(size=(120, 40)) as pilot:
            await pilot.pause()
            app.open_on_stand("salt-road")
            await pilot.pause(IDLE_S)
            await pilot.press("space")
            await pilot.pause(IDLE_S)
            with Trace() as idle:
                await pilot.pause(IDLE_S)
            for key in keys:
                with Trace() as trace:
                    await pilot.press(key)
                    await pilot.pause()
                found[key] = [file for file in trace.files if file not in idle.files]
                await pilot.pause(IDLE_S)
        return found


def main(words: Sequence[str] | None = None) -> int:
    """Print a line for each key, then its files."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("keys", nargs="*", default=["up"], help="keys of the stand, by Textual's names")
    for key, files in asyncio.run(passed(parser.parse_args(words).keys)).items():
        print(f"{key}: {len(files)} files")
        print("\n".join(f"  {file}" for file in files))
    return 0


if __name__ == "__main__":
    sys.exit(main())
