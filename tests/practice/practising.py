"""A program that practises until it is killed: adds passes, and says each one's number after it is logged.

Run as `python -m tests.practice.practising LOG FIRST [COUNT]`.
"""

import sys
from datetime import timedelta
from itertools import count
from pathlib import Path

from tests.practice.made import LEAD, NOON, clock, played
from trainer.practice.log import Log
from trainer.practice.sittings import Place


def main(path: str, first: int, most: int | None = None) -> None:
    log = Log.open(
        Path(path), now=clock, tell=lambda problem: print(problem, file=sys.stderr), sitting=f"s{first}", process=0
    )
    for number in count(first) if most is None else range(first, first + most):
        one = played(number, at=NOON + timedelta(seconds=number % 40_000))
        log.add(one, ladder={"number": number}, place=Place(LEAD, 1, 4, 100.0 + number % 50, "Rack 1"))
        sys.stdout.write(f"{number}\n")
        sys.stdout.flush()
    log.close()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else None)
