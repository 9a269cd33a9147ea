"""How fast the log is with a million passes, and whether a killed program loses any.

Run as `python -m tests.benchmarks.log_speed [--passes 1000000] [--exercises 10000] [--kills 200] [--folder FOLDER]`.

Prints the time to log a pass (median, 99 %, largest) beside a peer in the same run, a bare sqlite3 insert of the same
row into the same kind of file (write-ahead log, synchronous FULL), then every query of `reading` beside its bound, and
the kills. A bound is met when the ratio is at most 1.
"""

import argparse
import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from uuid import UUID

from tests.practice.killing import kill_often
from tests.practice.made import NOON, clock, heard
from trainer.practice import goals, reading
from trainer.practice.days import practice_day
from trainer.practice.goals import Goal
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.passes import Pass
from trainer.practice.recording import INSERT_INTO_PASSES, new_line_id, pass_values
from trainer.practice.sittings import Place
from trainer.practice.tally import rebuild
from trainer.practice.verdict import CLEAN, Outcome

ADD_BOUND_MS = 5.0
QUERY_BOUND_MS = 50.0
YEARS = 8
BUSY = [Line("bench-0", "Low road", part) for part in ("guitar 1", "guitar 2")]


def lines(exercises: int) -> list[Line]:
    return [Line(f"bench-{n}", "Low road", part) for n in range(exercises) for part in ("guitar 1", "guitar 2")]


def passes(count: int, exercises: int, chance: random.Random) -> Iterator[Pass]:
    """Passes over eight years; a tenth of them on one exercise, every line played at least once."""
    everything = lines(exercises)
    outcomes = [Outcome.CLEAN, Outcome.CLEAN, Outcome.MISSED, Outcome.UNJUDGED]
    for number in range(count):
        at = NOON - timedelta(days=YEARS * 365 * (1 - number / count), seconds=chance.randrange(3600))
        if number < len(everything):
            line = everything[number]
        else:
            line = chance.choice(BUSY) if chance.random() < 0.1 else chance.choice(everything)
        yield Pass(
            UUID(int=chance.getrandbits(128)).hex,
            at,
            practice_day(at),
            line,
            "a1b2c3d4",
            1,
            4,
            True,
            90.0 + 70 * number / count + chance.randrange(12),
            9.5,
            heard(chance, chance.choice(outcomes)),
            "ladder",
        )


def fill(path: Path, count: int, exercises: int) -> None:
    """A log with so many passes, through the import's own steps."""
    with Log.open(path, now=clock) as log:

        def enter(db: sqlite3.Connection) -> None:
            numbers = {line: new_line_id(db, line) for line in lines(exercises)}
            made = passes(count, exercises, random.Random(1))
            db.executemany(INSERT_INTO_PASSES, (pass_values(one, numbers[one.line]) for one in made))
            rebuild(db)
            for number, line in enumerate(BUSY * 3 + lines(exercises)[:200]):
                goals.put_goal(db, Goal(f"{number:032x}", line, 140.0 + number % 50, None, NOON))

        log.change(enter)


def times_ms(run: Callable[[], object], times: int, timer: Callable[[], float] = time.perf_counter) -> list[float]:
    answer = []
    for _ in range(times):
        before = timer()
        run()
        answer.append((timer() - before) * 1000)
    return sorted(answer)


def row(name: str, took: list[float], bound: float | None, note: str = "") -> None:
    median, late = statistics.median(took), took[min(len(took) - 1, int(len(took) * 0.99))]
    ratio = f"{late / bound:8.3f}" if bound else " " * 8
    print(f"{name:<34}{median:9.3f}{late:9.3f}{took[-1]:9.3f}{bound or '':>7}{ratio}  {note}", flush=True)


def bare(folder: Path, made: list[Pass]) -> list[float]:
    """The peer: the same row into a bare table, one commit each, with the same safety."""
    with closing(sqlite3.connect(folder / "bare.sqlite", isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute(
            "CREATE TABLE passes(id INTEGER PRIMARY KEY, uuid BLOB UNIQUE, at_ms, day, line, digest, first_bar, "
            "last_bar, whole, tempo_bpm, seconds, outcome, way, verdict)"
        )
        rows = iter([pass_values(one, 1) for one in made])

        def insert() -> None:
            db.execute("BEGIN IMMEDIATE")
            db.execute(INSERT_INTO_PASSES, next(rows))
            db.execute("COMMIT")

        return times_ms(insert, len(made))


def adding(log: Log, folder: Path, count: int, exercises: int) -> None:
    made = list(passes(count, exercises, random.Random(2)))
    moments = [NOON + timedelta(days=1 + n // 250, seconds=10 * (n % 250)) for n in range(count)]  # 250 passes a day
    now = [
        Pass(one.uuid, moments[n], practice_day(moments[n]), BUSY[n % 2] if n % 3 else one.line,
             one.digest, 1, 4, True, one.tempo_bpm, 9.5, one.verdict, "ladder")
        for n, one in enumerate(made)
    ]  # fmt: skip
    waiting, position = iter(now), {"tempo_bpm": 104.0, "reversals": [100.0, 104.0, 102.0, 106.0]}
    place = Place(BUSY[0], 1, 4, 104.0, "Rack 1", "ladder")
    ours = times_ms(lambda: log.add(next(waiting), ladder=position, place=place), len(now) // 2)
    work = times_ms(lambda: log.add(next(waiting), ladder=position, place=place), len(now) // 2, time.thread_time)
    peer = bare(folder, made)
    row("log a pass", ours, ADD_BOUND_MS, "with counts, goals, ladder and place")
    row("  of it processor time", work, ADD_BOUND_MS, "without waiting for the disk and for other programs")
    times = statistics.median(ours) / statistics.median(peer)
    row("peer: bare insert", peer, None, f"ours takes {times:.1f} times as long")
    again = iter(now)
    row("give a pass another verdict", times_ms(lambda: log.amend(next(again).uuid, CLEAN), 300), ADD_BOUND_MS)


def queries(log: Log) -> None:
    today = practice_day(NOON)
    year = timedelta(days=365)
    asked: dict[str, Callable[[], object]] = {
        "shelf: all exercises": lambda: log.ask(reading.exercises),
        "stand: one line": lambda: log.ask(reading.line, BUSY[0]),
        "stand: ladder": lambda: log.ask(reading.ladder, BUSY[0]),
        "logbook: lines of an exercise": lambda: log.ask(reading.lines, "bench-0"),
        "logbook: a line's days": lambda: log.ask(reading.line_days, BUSY[0]),
        "logbook: a line's tempos": lambda: log.ask(reading.line_tempos, BUSY[0]),
        "logbook: a line's bars": lambda: log.ask(reading.line_bars, BUSY[0]),
        "logbook: versions of a riff": lambda: log.ask(reading.versions, BUSY[0]),
        "logbook: calendar of a year": lambda: log.ask(reading.days, today - year, today),
        "logbook: streak": lambda: log.ask(reading.practised_days),
        "logbook: totals": lambda: log.ask(reading.totals),
        "logbook: goals": lambda: log.ask(goals.goals),
    }
    for name, run in asked.items():
        run()
        row(name, times_ms(run, 100), QUERY_BOUND_MS)
    with closing(sqlite3.connect(log.path or ":memory:")) as db:
        peer = times_ms(
            lambda: db.execute("SELECT count(*), max(tempo_bpm) FROM passes WHERE outcome = 'clean'").fetchall(), 3
        )
        row("peer: one count over all passes", peer, None, "what a screen would wait for without the counts kept")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--passes", type=int, default=1_000_000)
    parser.add_argument("--exercises", type=int, default=10_000)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--folder", type=Path, help="where the files are made (the disk is part of what is measured)")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.folder) as name:
        folder = Path(name)
        path = folder / "log.sqlite"
        before = time.perf_counter()
        fill(path, options.passes, options.exercises)
        took, size = time.perf_counter() - before, path.stat().st_size / 1e6
        print(f"Python {sys.version.split()[0]}, SQLite {sqlite3.sqlite_version}; {options.passes:,} passes of "
              f"{options.exercises:,} exercises filled and counted in {took:.0f} s, {size:.0f} MB\n")  # fmt: skip
        print(f"{'':<34}{'median':>9}{'99 %':>9}{'most':>9}{'bound':>7}{'99%/b':>8}   (milliseconds)")
        with Log.open(path, now=clock, sitting="bench", process=1) as log:
            adding(log, folder, 3000, options.exercises)
            row("settle (aside, in idle moments)", times_ms(log.settle, 1), None)
            queries(log)
            row("check the whole file (aside)", times_ms(log.check, 1), None)
        opened = times_ms(lambda: Log.open(path, now=clock).close(), 15)
        row("open and close", opened, None)
        if options.kills:
            kills = kill_often(folder / "killed.sqlite", options.kills, seed=11, longest=0.25)
            print(f"\n{kills.kills} kills at random moments: {kills.logged:,} passes logged, {kills.lost} lost, "
                  f"{kills.unsound} times unsound, {kills.places_lost} places lost")  # fmt: skip


if __name__ == "__main__":
    main()
