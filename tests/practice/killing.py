"""Kill a practising program at random moments, and see what the log holds: shared by the test and the benchmark."""

import random
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import NamedTuple

from tests.practice.made import LEAD, clock
from trainer.practice import reading
from trainer.practice.log import Log
from trainer.practice.sittings import ports_to_silence, sittings


class Kills(NamedTuple):
    """What came of it."""

    kills: int
    logged: int
    """Passes that the killed programs said were logged."""
    lost: int
    """Of these, how many the log does not hold."""
    unsound: int
    """After how many kills the file was not sound."""
    places_lost: int
    """After how many kills the next start could not go on where the last logged pass was."""


def kill_often(path: Path, kills: int, seed: int, longest: float) -> Kills:
    """Start, kill after 0 to `longest` seconds of logging, start again on the same file."""
    chance = random.Random(seed)
    logged: set[int] = set()
    unsound = places_lost = 0
    for kill in range(kills):
        first = kill * 1_000_000
        practising = subprocess.Popen(
            [sys.executable, "-m", "tests.practice.practising", str(path), str(first)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert practising.stdout is not None
        with practising:
            said = [practising.stdout.readline()]  # the first pass is logged: now the clock runs
            time.sleep(chance.random() * longest)  # the moment of the kill is the experiment, nothing is awaited
            practising.kill()
            said += practising.stdout.readlines()
        mine = {int(line) for line in said if line.endswith("\n")}
        logged |= mine
        with Log.open(path, now=clock) as log:
            (found,) = log.ask(sqlite3.Connection.execute, "PRAGMA integrity_check").fetchone()
            unsound += found != "ok"
            position = log.ask(reading.ladder, LEAD)
            place = next((found.place for found in log.ask(sittings) if found.place), None)
            on = max(mine)
            places_lost += not (position and position["number"] >= on and place)
            assert "Rack 1" in log.ask(ports_to_silence, lambda process: False)
    with Log.open(path, now=clock) as log:
        kept = {int.from_bytes(uuid) for (uuid,) in log.ask(sqlite3.Connection.execute, "SELECT uuid FROM passes")}
        total = log.ask(reading.totals).passes
        unsound += total != len(kept)
    return Kills(kills, len(logged), len(logged - kept), unsound, places_lost)
