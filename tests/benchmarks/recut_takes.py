"""The listening room against takes that nobody has heard: notes of the given takes, recut to new riffs.

`TWINSPUR_TAKES=FOLDER python -m tests.benchmarks.recut_takes [--first 0] [--count 120] [--drive 6] [--rate 44100]
[--synthesised] [--each]`

A seed gives family, tempo (90 to 190), guitar, player, chain, noises and trouble (first or last notes missed, some in a
row missed, an extra before the first, a silent bar); the same seeds give the same takes on every machine. As the notes
are those of the given takes, what is measured is how well the room does on other riffs and players, not on other
guitars.
"""

import argparse
import os
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from tests.benchmarks.listening import notes_row, resampled, row
from tests.benchmarks.listening_bounds import against_bounds
from tests.benchmarks.recut.notes import Cut, cuts
from tests.benchmarks.recut.riffs import FAMILIES
from tests.benchmarks.recut.takes import TROUBLES, driven_more, recut
from tests.listening.truth import Agreement, TrueTake
from trainer.listening.hearing import hear
from trainer.listening.strum import Strum, can_be_told


@dataclass(frozen=True)
class Asked:
    """What is done to every take."""

    folder: Path
    drive: float = 0.0
    rate: int = 0
    synthesised: bool = False


_pools: dict[tuple[Path, bool], list[Cut]] = {}


def made(seed: int, asked: Asked) -> TrueTake:
    """The take of a seed."""
    key = (asked.folder, asked.synthesised)
    if key not in _pools:
        _pools[key] = cuts(asked.folder, recorded=not asked.synthesised)
    take = recut(seed, _pools[key])
    if asked.drive:
        take = driven_more(take, asked.drive)
    return replace(take, sound=resampled(take.sound, asked.rate)) if asked.rate else take


@dataclass(frozen=True)
class Result:
    """What came of one take."""

    name: str
    agreement: Agreement
    hammered_ms: list[float]
    """How far hammered notes were off, the take's median taken out."""
    hammered: int
    """How many there were."""
    strums: list[tuple[float, Strum | None]]
    """Of chords of two strings that were found: the true strum in ms, and what was told of it."""
    process_s: float


def _one(seed: int, asked: Asked) -> Result:
    take = made(seed, asked)
    began = time.process_time()
    hearing = hear(take.sound, take.written)
    process_s = time.process_time() - began
    result = Agreement()
    result.add(take, hearing)
    (bias,) = result.biases_ms
    hammered, played, strums = [], 0, []
    for stroke, note in take.of_stroke.items():
        heard = hearing.strokes[stroke]
        if note["onset"] is None:
            continue
        played += note["art"] == "hammer"
        if heard is not None and note["art"] == "hammer":
            hammered.append((heard.at_s - note["onset"]) * 1000 - bias)
        if heard is not None and can_be_told(note["played"]):
            strums.append((1000 * (max(note["strings"]) - min(note["strings"])), heard.strum))
    return Result(take.name, result, hammered, played, strums, process_s / take.sound.seconds)


def strums_row(results: Sequence[Result]) -> str:
    """How well strums of two strings are told, beside a guess that is always the middle one."""
    every = [pair for result in results for pair in result.strums]
    told = [(true, strum) for true, strum in every if strum is not None]
    if not told:
        return f"strums of two strings: none told of {len(every)}"
    off = np.abs([strum.ms - true for true, strum in told])
    inside = np.mean([strum.low_ms - 0.5 <= true <= strum.high_ms + 0.5 for true, strum in told])
    all_true = np.array([true for true, _ in every])
    return (
        f"strums of two strings: told {len(told)} of {len(every)}, off by {np.median(off):.2f} ms (90 % "
        f"{np.percentile(off, 90):.1f}), {inside:.0%} inside their intervals; "
        f"a guess is off by {np.median(np.abs(all_true - np.median(all_true))):.2f} ms"
    )


def hammered_row(results: Sequence[Result]) -> str:
    """How well hammered and pulled notes are found and timed."""
    off = np.abs([ms for result in results for ms in result.hammered_ms] or [0.0])
    found, played = sum(len(result.hammered_ms) for result in results), sum(result.hammered for result in results)
    return (
        f"hammered notes: found {found} of {played}, off by {np.median(off):.2f} ms "
        f"(95 % {np.percentile(off, 95):.1f}, worst {off.max():.1f})"
    )


def together(results: Sequence[Agreement]) -> Agreement:
    """Their counts summed."""
    total = Agreement()
    for result in results:
        total.merge(result)
    return total


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--takes", default=os.environ.get("TWINSPUR_TAKES", ""))
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=120)
    parser.add_argument("--drive", type=float, default=0.0, help="one more stage of drive, of this gain")
    parser.add_argument("--rate", type=int, default=0, help="another sample rate")
    parser.add_argument("--synthesised", action="store_true", help="cut the synthesised takes instead")
    parser.add_argument("--each", action="store_true", help="a line for every take")
    options = parser.parse_args()
    folder = Path(options.takes)
    if not options.takes or not folder.is_dir():
        print("No takes with known truth to cut: name their folder with TWINSPUR_TAKES.")
        return 0
    asked = Asked(folder, options.drive, options.rate, options.synthesised)
    seeds = range(options.first, options.first + options.count)
    with ProcessPoolExecutor() as pool:
        results = list(pool.map(partial(_one, asked=asked), seeds, chunksize=6))
    if options.each:
        for result in results:
            print(row(result.name, result.agreement))
    groups = [*FAMILIES, "_d0", "_d2", "_d3", "_d10", *dict.fromkeys(filter(None, TROUBLES))]
    for group in groups:
        some = [result.agreement for result in results if f"_{group.strip('_')}_" in f"{result.name}_"]
        if some:
            print(row(f"{group.strip('_')} ({len(some)})", together(some)))
            print(notes_row(together(some)))
    total = together([result.agreement for result in results])
    print(f"\nall {len(results)} takes:")
    print(row("twinspur, with the part", total))
    print(notes_row(total))
    print(against_bounds(total))
    print(f"    {hammered_row(results)}")
    print(f"    {strums_row(results)}")
    print(f"    processor time for 30 s of take: {30 * np.median([result.process_s for result in results]):.2f} s")
    far = [result.name for result in results if max(map(abs, result.agreement.biases_ms)) > 2]
    print(f"    takes whose bias is over 2 ms: {len(far)} {' '.join(far)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
