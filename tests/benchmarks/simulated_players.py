"""Simulated players through the whole way: a take with a known fault or none, the verdict on it, and the ladder.

`python -m tests.benchmarks.simulated_players [--runs 500] [--clean 200] [--climbs 16] [--passes 60] [--show]`

Parts come from the bundled exercises and from exercise files written by chance; takes from the tests' own strings and
from the program's renderer with its bank, dry and with a player's noise and drive. The climbs show where a ladder
settles that is led by takes, beside one led by the truth and the place that the rule states.
"""

import argparse
import multiprocessing
import sys
import time
from collections import Counter, defaultdict
from math import exp
from random import Random
from statistics import fmean, median, stdev

from tests.listening.climbing import climbed, climbed_by_truth, player_for, rules_for, settled
from tests.listening.sheets import bundled_sheet
from tests.listening.simulated import FAULTS, SOURCES, run
from tests.practice.players import settles_at
from trainer.practice.verdict import Outcome

NAMED, BLAMED_NOTHING = 0.95, 0.95
"""Shares of the runs, from the issue."""
POSSIBLE = ("double", "extra")
"""Notes too many are worded as possible; half of them is what is asked for elsewhere."""
FAULT_SEEDS, CLEAN_SEEDS, CLIMB_SEEDS = 10_000, 20_000, 30_000
SETTLING = 20
"""Passes of a climb before its rungs are averaged."""
LONG = 4_000
"""Passes of a climb led by the truth, which costs nothing."""
Told = tuple[str, str, bool, bool, bool, float, str]
"""Fault, source, named, named first, judged, seconds for judging and rendering, what was played and what was told."""


def _judged(job: tuple[int, str, str]) -> Told:
    seed, fault, source = job
    began = time.perf_counter()
    item = run(seed, fault, source)
    judgement = item.judged()
    named, first = item.faulty.named(judgement), item.faulty.named(judgement, 1)
    seconds = time.perf_counter() - began
    sheet, places = item.sheet, sorted({stroke.place for stroke in item.faulty.strokes})
    told = " ".join(reason.sentence for reason in judgement.verdict.reasons) or "nothing"
    about = (
        f"run({seed}, {fault!r}, {source!r}): {sheet.exercise.title}, {sheet.riff.name}, {sheet.part}, bars "
        f"{sheet.bars[0]} to {sheet.bars[1]}, {float(sheet.tempo):g} bpm; "
        f"true: {', '.join(places[:2]) or '-'}; told: {told}"
    )
    return fault, source, named, first, judgement.verdict.counts, seconds, about


def _share(items: list[bool]) -> str:
    return f"{sum(items):4} of {len(items):3} ({sum(items) / len(items):6.1%})" if items else f"{'-':>21}"


def sentences(pool: "multiprocessing.pool.Pool", runs: int, clean: int, *, show: bool = False) -> bool:
    """How often the sentences name the injected fault with its place, and blame nothing where there is none."""
    kinds = [(fault, source) for source in SOURCES for fault in FAULTS]
    jobs = [(FAULT_SEEDS + k, *kinds[k % len(kinds)]) for k in range(runs)]
    jobs += [(CLEAN_SEEDS + k, "clean", SOURCES[k % len(SOURCES)]) for k in range(clean)]
    told: list[Told] = pool.map(_judged, jobs, chunksize=5)
    by: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for fault, source, named, *_ in told:
        by[fault, source].append(named)
    print(f"{'named within three sentences':<30}" + "".join(f"{source:>24}" for source in SOURCES) + f"{'all':>24}")
    for fault in (*FAULTS, "clean"):
        row = [by[fault, source] for source in SOURCES]
        row.append([named for items in row for named in items])
        print(f"  {fault:<28}" + "".join(f"{_share(items):>24}" for items in row))
    hurt = [item for item in told if item[0] != "clean"]
    sound = [item for item in told if item[0] == "clean"]
    names = [item[2] for item in hurt]
    calm = [item[2] for item in sound]
    first = [item[3] for item in hurt]
    print(f"  the fault named                {_share(names)}, bound {NAMED:.0%}; by the first sentence {_share(first)}")
    sure = [item[2] for item in hurt if item[0] not in POSSIBLE]
    print(f"  of those but possible extras   {_share(sure)}")
    print(f"  nothing blamed in clean takes  {_share(calm)}, bound {BLAMED_NOTHING:.0%}")
    print(f"  judged at all                  {_share([item[4] for item in told])}")
    for item in told:
        if show and not item[2]:
            print(f"  {item[6]}")
    print(f"  rendered and judged in {fmean(item[5] for item in told):.2f} s each")
    return fmean(names or [True]) >= NAMED and fmean(calm or [True]) >= BLAMED_NOTHING


def _climb(job: tuple[int, int]) -> tuple[str, float, float, float, float, Counter[tuple[Outcome, Outcome]]]:
    seed, passes = job
    random = Random(seed)
    sheet = bundled_sheet(random)
    who, rules = player_for(sheet, random), rules_for(sheet)
    led = climbed(random, passes, sheet, who)
    same = [settled(climbed_by_truth(Random(seed + k), passes, rules, who), SETTLING) for k in range(40)]
    long = settled(climbed_by_truth(Random(seed), LONG, rules, who), SETTLING)
    share = settles_at(rules)
    stated = who.tempo_for(share) if share else 0.0
    name = f"{sheet.exercise.title}, {sheet.riff.name}, {sheet.part}"
    return name, exp(settled(led, SETTLING)), exp(fmean(same)), exp(long), stated, Counter(led.passes)


def ladders(pool: "multiprocessing.pool.Pool", climbs: int, passes: int) -> None:
    """Where ladders settle that takes lead, beside those that the truth leads."""
    found = pool.map(_climb, [(CLIMB_SEEDS + k, passes) for k in range(climbs)], chunksize=1)
    print(f"\n{climbs} players climb for {passes} passes each; mean rung from pass {SETTLING} on, bpm")
    print(f"  {'':<52}{'by take':>9}{'by truth':>10}{'long run':>10}{'stated':>8}{'misjudged':>11}")
    total: Counter[tuple[Outcome, Outcome]] = Counter()
    for name, by_take, by_truth, long, stated, told in found:
        wrong = sum(count for (said, played), count in told.items() if said is not played)
        print(f"  {name:<52}{by_take:9.1f}{by_truth:10.1f}{long:10.1f}{stated:8.1f}{wrong:8} of {passes}")
        total += told
    off = [by_take / by_truth - 1 for _, by_take, by_truth, *_ in found]
    rule = [long / stated - 1 for *_, long, stated, _ in found]
    error = stdev(off) / len(off) ** 0.5 if len(off) > 1 else 0.0
    print(f"  by take over by truth: {fmean(off):+.1%} ± {1.96 * error:.1%}, median {median(off):+.1%}")
    print(f"  by truth in the long run over the rule: {fmean(rule):+.1%}")
    for outcome in (Outcome.CLEAN, Outcome.MISSED):
        mine = Counter({said: count for (said, played), count in total.items() if played is outcome})
        shares = ", ".join(f"{said} {count / mine.total():.1%}" for said, count in mine.most_common())
        print(f"  passes that were {outcome}: told {shares}")


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=500)
    parser.add_argument("--clean", type=int, default=200)
    parser.add_argument("--climbs", type=int, default=16)
    parser.add_argument("--passes", type=int, default=60)
    parser.add_argument("--show", action="store_true", help="every run that was not told as it was")
    options = parser.parse_args()
    with multiprocessing.Pool() as pool:
        reached = sentences(pool, options.runs, options.clean, show=options.show)
        if options.climbs:
            ladders(pool, options.climbs, options.passes)
    print("\nBounds " + ("reached." if reached else "NOT reached."))
    return 0


if __name__ == "__main__":
    sys.exit(main())
