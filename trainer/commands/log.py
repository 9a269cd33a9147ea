"""`twinspur log`: the record of practice, to read, to carry out and to bring in."""

import argparse
from pathlib import Path
from typing import Any, NamedTuple

from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.record import bpm, day_of, now, share, today
from trainer.commands.replacing import check_free, replace_option
from trainer.commands.terminal import say, say_json, table
from trainer.music.printable import printable
from trainer.notation.files import file_text
from trainer.practice import reading
from trainer.practice.export import export_file, read_export
from trainer.practice.importing import import_all, is_log, read_log, undo_import
from trainer.practice.log import Log
from trainer.practice.progress import Streak, clean_share, streak

LARGEST_EXPORT = 2**31
"""Bytes of a file that may be brought in."""


def options(parser: argparse.ArgumentParser) -> None:
    """Which part of the record to read, and files to export it to or import from."""
    parser.add_argument("exercise", metavar="EXERCISE", nargs="?", help="only this exercise, by riff and part")
    parser.add_argument("--export", metavar="FILE", type=Path, help="write the whole record to a .json or .csv file")
    parser.add_argument(
        "--import", metavar="FILE", type=Path, dest="bring",
        help="add what --export wrote, or a log that was set aside; twice adds nothing",
    )  # fmt: skip
    parser.add_argument("--undo-import", action="store_true", help="take out again what the last --import brought")
    replace_option(parser, "--export")
    parser.add_argument("--json", action="store_true", help="print the record as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Read, export or import."""
    log = machine().log
    if arguments.bring:
        return _import(log, arguments.bring)
    if arguments.undo_import:
        return _undo_import(log)
    if arguments.export:
        return _export(log, arguments.export, replace=arguments.replace)
    if arguments.exercise:
        return _exercise(log, printable(arguments.exercise), arguments.json)
    return _all(log, arguments.json)


def _import(log: Log, path: Path) -> int:
    if is_log(path):
        held = read_log(path)
    else:
        held = read_export(file_text(path, limit=LARGEST_EXPORT).splitlines(keepends=True), str(path))
    at_ms = round(now().timestamp() * 1000)
    brought = log.change(import_all, held.passes, held.goals, str(path), at_ms, assigned=held.assignments)
    asked = f", {counted(brought.assignments, 'assignment')}" if brought.assignments else ""
    new = f"{counted(brought.passes, 'new pass')}, {brought.known} known already, {counted(brought.goals, 'new goal')}"
    say(f"{path}: {new}{asked}.")
    if brought.passes or brought.goals or brought.assignments:
        say("To take them out again: twinspur log --undo-import")
    return DONE


def counted(count: int, what: str) -> str:
    """So many of something.

    >>> counted(1, "pass"), counted(2, "new pass"), counted(0, "goal")
    ('1 pass', '2 new passes', '0 goals')
    """
    ending = "es" if what.endswith("s") else "s"
    return f"{count} {what}{'' if count == 1 else ending}"


def _undo_import(log: Log) -> int:
    undone = log.change(undo_import, round(now().timestamp() * 1000))
    if undone is None:
        say("There is no import to undo.")
    else:
        asked = f", {counted(undone.assignments, 'assignment')}" if undone.assignments else ""
        gone = f"{counted(undone.passes, 'pass')} and {counted(undone.goals, 'goal')}{asked}"
        say(f"{printable(undone.source)}: taken out again: {gone}.")
    return DONE


def _export(log: Log, path: Path, *, replace: bool) -> int:
    if path.suffix.casefold() not in (".json", ".csv"):
        raise CallError(f"--export cannot be {path}: a file ending in .json or .csv.")
    check_free(path, replace=replace)
    log.ask(export_file, path)
    say(f"{path}: the whole record.")
    return DONE


def _plain(record: NamedTuple) -> dict[str, Any]:
    """A record as JSON has it."""
    values = record._asdict()
    for key, value in values.items():
        if hasattr(value, "isoformat"):
            values[key] = value.isoformat()
        elif hasattr(value, "_asdict"):
            values[key] = value._asdict()
    return values


def _streak(log: Log) -> Streak:
    return streak(log.ask(reading.practised_days), today())


def _all(log: Log, as_json: bool) -> int:
    records = sorted(log.ask(reading.exercises).values(), key=lambda record: -record.last_ms)
    totals, days = log.ask(reading.totals), _streak(log)
    if as_json:
        say_json(
            {
                "exercises": [_plain(record) for record in records],
                "totals": {
                    "passes": totals.passes,
                    "clean": totals.clean,
                    "missed": totals.missed,
                    "seconds": totals.seconds,
                },
                "streak": days._asdict(),
            }
        )
        return DONE
    if not records:
        say("Nothing is recorded yet. Practise with twinspur.")
        return DONE
    rows = [("exercise", "passes", "clean", "best", "minutes", "last practised")]
    for record in records:
        clean = share(clean_share(record.clean, record.missed))
        minutes = f"{record.seconds / 60:.0f}"
        rows.append((record.exercise, str(record.passes), clean, bpm(record.best_bpm), minutes, day_of(record.last_ms)))
    for line in table(rows, right=frozenset({1, 2, 3, 4})):
        say(line)
    played = f"{counted(totals.passes, 'pass')}, {counted(round(totals.seconds / 60), 'minute')}"
    say(f"\nIn all: {played}; days in a row: {days.now} (longest {days.longest}).")
    return DONE


def _exercise(log: Log, exercise: str, as_json: bool) -> int:
    records = log.ask(reading.lines, exercise)
    if as_json:
        say_json([{**_plain(record), "clean_share": record.clean_share} for record in records])
        return DONE
    if not records:
        say(f"Nothing is recorded of {exercise}.")
        return DONE
    rows = [("riff", "part", "passes", "clean", "best", "last practised", "due")]
    for record in records:
        due = record.due.isoformat() if record.due else "-"
        counts = (str(record.passes), share(record.clean_share), bpm(record.best_bpm))
        rows.append((record.line.riff or "the form", record.line.part, *counts, day_of(record.last_ms), due))
    for line in table(rows, right=frozenset({2, 3, 4})):
        say(line)
    return DONE
