"""Simulated players through the whole way: a take with known faults, judged, and its verdict given to a ladder.

`python -m tests.benchmarks.simulated_players [--runs 500] [--clean 200]`
"""

import argparse
import multiprocessing
import sys
from datetime import date

from tests.listening.simulated import FAULTS, played, run
from trainer.practice.ladder import Ladder
from trainer.practice.ladder_rules import LadderRules
from trainer.practice.verdict import Outcome


def _simulated(job: tuple[int, str]) -> tuple[str, bool, bool]:
    seed, fault = job
    item = run(seed, fault)
    judgement = played(item)
    ladder = Ladder.begin(LadderRules(60.0, 180.0), date(2031, 5, 4))
    after = ladder.after(judgement.verdict.outcome)
    fair = judgement.verdict.outcome is not Outcome.UNJUDGED
    return fault, item.named(judgement), fair and after is not None


def simulated(runs: int, clean: int) -> None:
    """Rendered players with one known fault or none, judged, and their verdicts given to a ladder."""
    jobs = [(10_000 + k, FAULTS[k % len(FAULTS)]) for k in range(runs)] + [(20_000 + k, "clean") for k in range(clean)]
    with multiprocessing.Pool() as pool:
        told = pool.map(_simulated, jobs, chunksize=10)
    print("Simulated players: the sentences name the fault and its place")
    for fault in (*FAULTS, "clean"):
        mine = [named for kind, named, _ in told if kind == fault]
        if mine:
            print(f"  {fault:<8} {sum(mine)} of {len(mine)} ({sum(mine) / len(mine):.1%})")
    hurt = [named for kind, named, _ in told if kind != "clean"]
    if hurt:
        print(f"  all faults {sum(hurt) / len(hurt):.1%}")
    print(f"  judged, and their verdicts given to the ladder: {sum(fair for *_, fair in told)} of {len(told)}")


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=500)
    parser.add_argument("--clean", type=int, default=200)
    options = parser.parse_args()
    simulated(options.runs, options.clean)
    return 0


if __name__ == "__main__":
    sys.exit(main())
