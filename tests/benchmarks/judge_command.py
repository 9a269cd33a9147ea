"""How long `twinspur judge` takes from the call to the answer, on a take of 30 seconds.

`python -m tests.benchmarks.judge_command [--times 7]`

Every call is a process of its own on files that have been read before; a Python that does nothing and one that only
imports numpy and soundfile are timed in the same run. Wall time says little on a busy machine: the processor's time of
each call stands beside it.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path
from statistics import median

import numpy as np
import soundfile

from tests.listening.banked import rendered
from tests.listening.plucked import player
from tests.listening.sheets import Sheet, bundled_parts

BOUND_S = 1.5
"""From the issue, for a take of 30 seconds as a command."""
RIFF, PASSES = "Wet stones", 4
TEMPO, LEAD_S = 128, 0.3


def take(folder: Path, tempo: int) -> Path:
    """Four passes of a gallop without a break, about 30 seconds, as FLAC."""
    exercise, riff, part = next(each for each in bundled_parts() if each[1].name == RIFF)
    sheet = Sheet(exercise, riff, part, (1, len(riff.meters)), Fraction(tempo))
    length = float(sheet.written.length)
    passes = [rendered(sheet, player(sheet.written, 0.02, 3.0, seed), length) for seed in range(PASSES)]
    rate = passes[0].rate
    sound = np.concatenate([np.zeros(round(LEAD_S * rate), np.float32), *(each.samples for each in passes)])
    path = folder / f"take-{tempo}.flac"
    soundfile.write(path, sound, rate)
    return path


def timed(words: list[str], times: int) -> tuple[float, float]:
    """Median wall time and processor time of a call, in seconds."""
    walls, works = [], []
    for _ in range(times):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        began = time.perf_counter()
        subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=False)
        walls.append(time.perf_counter() - began)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        works.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return median(walls), median(works)


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--times", type=int, default=7)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        judge = ["-m", "trainer", "judge", "iron-causeway", "--riff", RIFF, "--passes", str(PASSES)]
        mid, start = str(take(folder, TEMPO)), str(take(folder, 92))
        calls = {
            "python that does nothing": ["-c", "pass"],
            "importing numpy and soundfile": ["-c", "import numpy, soundfile"],
            "judge, the tempo given": [*judge, mid, "--tempo", str(TEMPO)],
            "judge, the start tempo found": [*judge, start],
            "judge, a tempo that is not tried": [*judge, mid],
        }
        found = {}
        for said, words in calls.items():
            timed(words, 1)
            found[said] = timed(words, options.times)
            bound = f"   bound {BOUND_S:g} s" if "given" in said else ""
            print(f"  {said:<34} {found[said][0]:6.2f} s, {found[said][1]:6.2f} s of processor time{bound}")
    print(f"  load while it ran: {os.getloadavg()[0]:.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
