"""How long it takes to compute a harmony over 2,000 bars, to check one, and to explain a riff.

Bound: realising 2,000 bars in 1 s. "Repeated" is a riff as riffs are, one figure of four bars after another; "random"
is 16 random notes in every bar, the worst that can be written in sixteenths. The peer is reading a file of as many bars
with four parts, in the same run. Run: `python -m tests.benchmarks.harmony_scale`.
"""

import gc
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from random import Random

from tests.arranging.lines import GUITAR, harmony, riff_of
from tests.benchmarks.made import long_exercise
from trainer.arranging.explain import explain
from trainer.arranging.realise import harmony_problems, realise
from trainer.music.note import Moment, Note
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.notation.read import read

BARS = 2000
BOUND = 1.0
RUNS = 5


def bar(random: Random, notes: int) -> tuple[Moment, ...]:
    """A bar of even notes on the upper strings."""
    scale = (3, 5, 7, 8, 10, 12)
    return tuple(
        Moment(Fraction(number, notes), (Note(random.randint(1, 3), random.choice(scale)),)) for number in range(notes)
    )


def line(random: Random, notes: int, different: int) -> Riff:
    """A riff of so many different bars, repeated to 2,000, with a harmony of thirds."""
    bars = [bar(random, notes) for _ in range(different)]
    part = TabPart("guitar 1", GUITAR, tuple(bars[number % different] for number in range(BARS)))
    return riff_of(part, harmony("third above"))


def seconds(work: Callable[[], object]) -> float:
    """The median time of several runs."""
    times = []
    for _ in range(RUNS):
        gc.collect()
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def main() -> None:
    """Measure and print."""
    text = long_exercise(BARS)
    reading = seconds(lambda: read(text))
    eighths, sixteenths = line(Random(1), 8, 4), line(Random(2), 16, BARS)
    avoiding = replace(sixteenths.harmonies[0], avoid=("guitar 1",))
    careful = replace(sixteenths, parts=(sixteenths.parts[0], avoiding))
    played = realise(eighths)
    short = replace(played, meters=played.meters[:16], parts=tuple(_cut(part, 16) for part in played.tabs))
    rows = (
        ("realise, repeated eighths", BOUND, lambda: realise(eighths)),
        ("realise, random sixteenths", BOUND, lambda: realise(sixteenths)),
        ("the same, avoiding clashes", None, lambda: realise(careful)),
        ("check only, random sixteenths", None, lambda: harmony_problems(sixteenths)),
        ("explain 16 bars of two guitars", None, lambda: explain(short)),
    )
    print(f"{BARS} bars\n{'':<34}{'bound':>8}{'median':>9}{'of reading':>12}")
    for name, bound, work in rows:
        took = seconds(work)
        print(f"{name:<34}{f'{bound:.1f}s' if bound else '':>8}{took:>8.3f}s{took / reading:>11.2f}x")
    print(f"{'read the file (peer)':<34}{'1.5s':>8}{reading:>8.3f}s{1:>11.2f}x")


def _cut(part: TabPart, bars: int) -> TabPart:
    return replace(part, bars=part.bars[:bars])


if __name__ == "__main__":
    main()
