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
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from tests.benchmarks.listening import notes_row, resampled, row
from tests.benchmarks.listening_bounds import against_bounds
from tests.benchmarks.recut.notes import Cut, cuts
from tests.benchmarks.recut.riffs import FAMILIES
from tests.benchmarks.recut.takes import TROUBLES, driven_more, recut
from tests.listening.truth import Agreement, TrueTake
from trainer.listening.hearing import hear


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


def _one(seed: int, asked: Asked) -> tuple[str, Agreement]:
    take = made(seed, asked)
    result = Agreement()
    result.add(take, hear(take.sound, take.written))
    return take.name, result


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
        for name, result in results:
            print(row(name, result))
    groups = [*FAMILIES, "_d0", "_d2", "_d3", "_d10", *dict.fromkeys(filter(None, TROUBLES))]
    for group in groups:
        some = [result for name, result in results if group in f"{name}_" and f"{group}_" in f"{name}_"]
        if some:
            print(row(f"{group.strip('_')} ({len(some)})", together(some)))
            print(notes_row(together(some)))
    total = together([result for _, result in results])
    print(f"\nall {len(results)} takes:")
    print(row("twinspur, with the part", total))
    print(notes_row(total))
    print(against_bounds(total))
    far = [name for name, result in results if max(map(abs, result.biases_ms), default=0.0) > 2]
    print(f"    takes whose bias is over 2 ms: {len(far)} {' '.join(far)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
