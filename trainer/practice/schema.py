"""The log's tables, and how an older log becomes a newer one.

`passes` is the record. Every other table of counts is derived from it, in the transaction that adds the pass, so that a
screen never counts a million rows; `tally.rebuild` derives them all again. A best of 0 bpm means: none yet.
"""

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from typing import Any, TypeVar

T = TypeVar("T")

APPLICATION_ID = 0x54575350
"""Marks the file as a practice log ("TWSP" in ASCII; SQLite's PRAGMA application_id)."""

FIGURES = ("bias", "spread", "gallop", "share")
"""What a take measured, kept as a sum and a number of passes."""

_FIGURE_COLUMNS = ", ".join(f"{f}_n INTEGER NOT NULL DEFAULT 0, {f}_sum REAL NOT NULL DEFAULT 0" for f in FIGURES)
_COUNTS = """passes INTEGER NOT NULL DEFAULT 0, clean INTEGER NOT NULL DEFAULT 0, missed INTEGER NOT NULL DEFAULT 0,
             seconds REAL NOT NULL DEFAULT 0"""

VERSION_1 = f"""
CREATE TABLE exercises(
    id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, {_COUNTS},
    best_bpm REAL NOT NULL DEFAULT 0, last_ms INTEGER NOT NULL DEFAULT 0, due_day INTEGER);
CREATE TABLE lines(
    id INTEGER PRIMARY KEY, exercise INTEGER NOT NULL REFERENCES exercises(id), riff TEXT NOT NULL, part TEXT NOT NULL,
    digest TEXT NOT NULL DEFAULT '', {_COUNTS},
    best_bpm REAL NOT NULL DEFAULT 0, best_ms INTEGER NOT NULL DEFAULT 0, last_ms INTEGER NOT NULL DEFAULT 0,
    stability REAL, difficulty REAL, reviewed_day INTEGER, due_day INTEGER,
    UNIQUE(exercise, riff, part));
CREATE INDEX lines_due ON lines(due_day) WHERE due_day IS NOT NULL;
CREATE TABLE passes(
    id INTEGER PRIMARY KEY, uuid BLOB NOT NULL UNIQUE, at_ms INTEGER NOT NULL, day INTEGER NOT NULL,
    line INTEGER NOT NULL REFERENCES lines(id), digest TEXT NOT NULL, first_bar INTEGER NOT NULL,
    last_bar INTEGER NOT NULL, whole INTEGER NOT NULL, tempo_bpm REAL NOT NULL, seconds REAL NOT NULL,
    outcome TEXT NOT NULL, way TEXT NOT NULL, verdict TEXT NOT NULL);
CREATE INDEX passes_line ON passes(line, day, at_ms);
CREATE TABLE days(day INTEGER PRIMARY KEY, {_COUNTS});
CREATE TABLE line_days(
    line INTEGER NOT NULL, day INTEGER NOT NULL, {_COUNTS}, best_bpm REAL NOT NULL DEFAULT 0,
    first_ms INTEGER, first_outcome TEXT, stability REAL, difficulty REAL, {_FIGURE_COLUMNS},
    PRIMARY KEY(line, day)) WITHOUT ROWID;
CREATE TABLE line_tempos(
    line INTEGER NOT NULL, tempo INTEGER NOT NULL, {_COUNTS}, {_FIGURE_COLUMNS},
    PRIMARY KEY(line, tempo)) WITHOUT ROWID;
CREATE TABLE line_bars(
    line INTEGER NOT NULL, bar INTEGER NOT NULL, passes INTEGER NOT NULL DEFAULT 0,
    missed INTEGER NOT NULL DEFAULT 0, blamed INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY(line, bar)) WITHOUT ROWID;
CREATE TABLE line_versions(
    line INTEGER NOT NULL, digest TEXT NOT NULL, {_COUNTS}, best_bpm REAL NOT NULL DEFAULT 0,
    first_ms INTEGER NOT NULL, last_ms INTEGER NOT NULL,
    PRIMARY KEY(line, digest)) WITHOUT ROWID;
CREATE TABLE ladders(line INTEGER PRIMARY KEY, position TEXT NOT NULL, saved_ms INTEGER NOT NULL);
CREATE TABLE goals(
    uuid TEXT PRIMARY KEY, exercise TEXT NOT NULL, riff TEXT NOT NULL, part TEXT NOT NULL, target_bpm REAL NOT NULL,
    by_day INTEGER, state TEXT NOT NULL, set_ms INTEGER NOT NULL, changed_ms INTEGER NOT NULL);
CREATE INDEX goals_line ON goals(exercise, riff, part);
CREATE TABLE sittings(
    id TEXT PRIMARY KEY, process INTEGER NOT NULL, began_ms INTEGER NOT NULL, saved_ms INTEGER NOT NULL,
    ended_ms INTEGER, port TEXT NOT NULL DEFAULT '', place TEXT NOT NULL DEFAULT '');
CREATE TABLE seen(text TEXT PRIMARY KEY, at_ms INTEGER NOT NULL);
"""

VERSION_2 = """
CREATE TABLE loop_ladders(
    line INTEGER NOT NULL REFERENCES lines(id), digest TEXT NOT NULL, first_bar INTEGER NOT NULL,
    last_bar INTEGER NOT NULL, position TEXT NOT NULL, saved_ms INTEGER NOT NULL,
    PRIMARY KEY(line, digest, first_bar, last_bar)) WITHOUT ROWID;
"""

VERSION_3 = """
CREATE TABLE imports(id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, source TEXT NOT NULL, goals TEXT NOT NULL);
CREATE TABLE imported(import INTEGER NOT NULL, pass INTEGER NOT NULL, PRIMARY KEY(import, pass)) WITHOUT ROWID;
"""

VERSION_4 = """
CREATE TABLE assignments(
    exercise TEXT NOT NULL, riff TEXT NOT NULL, part TEXT NOT NULL, tempo_bpm REAL NOT NULL, set_ms INTEGER NOT NULL,
    name TEXT NOT NULL DEFAULT '', teacher TEXT NOT NULL DEFAULT '', source TEXT NOT NULL DEFAULT '',
    first_bar INTEGER, last_bar INTEGER, by_day INTEGER, minutes INTEGER NOT NULL DEFAULT 0,
    note TEXT NOT NULL DEFAULT '', PRIMARY KEY(exercise, riff, part));
"""

MIGRATIONS: tuple[str, ...] = (VERSION_1, VERSION_2, VERSION_3, VERSION_4)
"""The script at index n leads from version n to n + 1; scripts are added, never changed."""

COUNTED = ("exercises", "lines", "days", "line_days", "line_tempos", "line_bars", "line_versions")
"""The tables that are derived from `passes`."""


def understood(make: Callable[[tuple[Any, ...]], T], rows: Iterable[tuple[Any, ...]]) -> Iterator[T]:
    """What each row makes; rows that make nothing are passed over.

    A log may hold figures and dates that cannot be, from an import of an earlier version or by another program's hand:
    they are left in the file, and stop nobody.
    """
    for row in rows:
        with suppress(ValueError, TypeError, OverflowError):
            yield make(row)


def migrate(db: sqlite3.Connection, scripts: tuple[str, ...] = MIGRATIONS) -> None:
    """Bring the log to the newest version, all or nothing; two windows starting at once take turns.

    Raises:
        sqlite3.Error: when it cannot be written; the log is then as it was.
    """
    if _version(db) >= len(scripts):
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        for script in scripts[_version(db) :]:  # read again: another window may have been faster
            for statement in script.split(";"):
                if statement.strip():
                    db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {len(scripts)}")
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def _version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])
