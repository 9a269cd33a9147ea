"""Counts and bests, kept beside the passes in the same transaction.

`count` adds a pass to every derived table or takes it out again; `rebuild` derives them all from the passes. Both give
the same tables, whatever the order in which passes arrive: a property test holds them to it.
"""

import json
import sqlite3
from collections.abc import Iterator
from datetime import date
from typing import Any, NamedTuple

from trainer.practice.schema import COUNTED, FIGURES
from trainer.practice.spacing import Retention, review
from trainer.practice.verdict import Outcome

SHORT_LOOP = 2
"""A loop of so many bars at most says something about each of its bars."""
FIGURE_KEYS = dict(zip(FIGURES, ("bias_ms", "spread_ms", "gallop_ratio", "clean_share"), strict=True))


class CountedPass(NamedTuple):
    """A row of `passes` as far as it is counted."""

    id: int
    at_ms: int
    day: int
    line: int
    digest: str
    first_bar: int
    last_bar: int
    whole: int
    tempo_bpm: float
    seconds: float
    outcome: str
    verdict: str


ROW = ", ".join(CountedPass._fields)


def row(db: sqlite3.Connection, uuid: bytes) -> CountedPass | None:
    """The pass of this uuid; None when there is none."""
    found = db.execute(f"SELECT {ROW} FROM passes WHERE uuid = ?", (uuid,)).fetchone()  # noqa: S608 - own names
    return None if found is None else CountedPass(*found)


def count(db: sqlite3.Connection, row: CountedPass, sign: int = 1) -> None:
    """Count a pass that stands in `passes` (`sign` 1), or one that is just leaving it (-1; `passes` without it)."""
    counts = (sign, sign * (row.outcome == Outcome.CLEAN), sign * (row.outcome == Outcome.MISSED), sign * row.seconds)
    best = row.tempo_bpm if row.whole and row.outcome == Outcome.CLEAN else 0.0
    verdict: dict[str, Any] = json.loads(row.verdict)
    figures = _figures(verdict, sign)
    _add(db, "days", {"day": row.day}, counts)
    _add(db, "line_days", {"line": row.line, "day": row.day}, counts, best * (sign > 0), figures=figures)
    _add(db, "line_tempos", {"line": row.line, "tempo": int(row.tempo_bpm + 0.5)}, counts, figures=figures)
    _count_version(db, row, counts, best * (sign > 0))
    for bar, blamed in _bars(row, verdict):
        db.execute(
            "INSERT INTO line_bars VALUES(?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET passes = passes + excluded.passes, "
            "missed = missed + excluded.missed, blamed = blamed + excluded.blamed",
            (row.line, bar, *((0, 0, sign) if blamed else (sign, counts[2], 0))),
        )
    if sign < 0:
        db.execute("DELETE FROM line_bars WHERE line = ? AND passes = 0 AND blamed = 0", (row.line,))
    if sign < 0 and best:
        _find_bests(db, row)
    _count_line(db, row, counts, best * (sign > 0))
    if row.whole and row.outcome != Outcome.UNJUDGED:
        _count_review(db, row)
    _count_exercise(db, row.line, counts)


def _add(
    db: sqlite3.Connection,
    table: str,
    key: dict[str, Any],
    counts: tuple[float, ...],
    best: float | None = None,
    *,
    figures: tuple[tuple[str, float], ...] = (),
) -> None:
    sums = dict(zip(("passes", "clean", "missed", "seconds"), counts, strict=True)) | dict(figures)
    values = key | sums | ({} if best is None else {"best_bpm": best})
    names = ", ".join(values)
    changes = [f"{name} = {name} + excluded.{name}" for name in sums]
    if best is not None:
        changes.append("best_bpm = max(best_bpm, excluded.best_bpm)")
    marks = ", ".join("?" * len(values))
    sql = f"INSERT INTO {table}({names}) VALUES({marks}) ON CONFLICT DO UPDATE SET {', '.join(changes)}"
    db.execute(sql, tuple(values.values()))


def _figures(verdict: dict[str, Any], sign: int) -> tuple[tuple[str, float], ...]:
    measured = verdict.get("measured", {})
    return tuple(
        pair
        for figure, key in FIGURE_KEYS.items()
        if key in measured
        for pair in ((f"{figure}_n", sign), (f"{figure}_sum", sign * measured[key]))
    )


def _bars(row: CountedPass, verdict: dict[str, Any]) -> Iterator[tuple[int, bool]]:
    """Every bar that the pass says something about, and whether a reason blames it."""
    if row.outcome != Outcome.UNJUDGED and row.last_bar - row.first_bar < SHORT_LOOP:
        yield from ((bar, False) for bar in range(row.first_bar, row.last_bar + 1))
    yield from ((reason["bar"], True) for reason in verdict.get("reasons", ()) if "bar" in reason)


def _count_version(db: sqlite3.Connection, row: CountedPass, counts: tuple[float, ...], best: float) -> None:
    db.execute(
        "INSERT INTO line_versions VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET "
        "passes = passes + excluded.passes, clean = clean + excluded.clean, missed = missed + excluded.missed, "
        "seconds = seconds + excluded.seconds, best_bpm = max(best_bpm, excluded.best_bpm), "
        "first_ms = min(first_ms, excluded.first_ms), last_ms = max(last_ms, excluded.last_ms)",
        (row.line, row.digest, *counts, best, row.at_ms, row.at_ms),
    )


def _find_bests(db: sqlite3.Connection, row: CountedPass) -> None:
    """A clean pass left: look for the bests again where it may have been the best."""
    clean = "SELECT coalesce(max(tempo_bpm), 0) FROM passes WHERE line = ?1 AND whole AND outcome = 'clean' AND "
    for table, column, value in (("line_days", "day", row.day), ("line_versions", "digest", row.digest)):
        db.execute(
            f"UPDATE {table} SET best_bpm = ({clean} {column} = ?2) "  # noqa: S608 - own names
            f"WHERE line = ?1 AND {column} = ?2 AND best_bpm <= ?3",
            (row.line, value, row.tempo_bpm),
        )
    (best,) = db.execute("SELECT best_bpm FROM lines WHERE id = ?", (row.line,)).fetchone()
    if row.tempo_bpm >= best:
        _find_line_best(db, row.line)


def _count_line(db: sqlite3.Connection, row: CountedPass, counts: tuple[float, ...], best: float) -> None:
    db.execute(
        "UPDATE lines SET passes = passes + ?, clean = clean + ?, missed = missed + ?, seconds = seconds + ?, "
        "digest = CASE WHEN ? >= last_ms THEN ? ELSE digest END, last_ms = max(last_ms, ?) WHERE id = ?",
        (*counts, row.at_ms, row.digest, row.at_ms, row.line),
    )
    if best:
        db.execute(
            "UPDATE lines SET best_ms = CASE WHEN ?1 > best_bpm THEN ?2 ELSE min(best_ms, ?2) END, best_bpm = ?1 "
            "WHERE id = ?3 AND best_bpm <= ?1",
            (best, row.at_ms, row.line),
        )


def _find_line_best(db: sqlite3.Connection, line: int) -> None:
    """The best of a line's days, and when it was first played."""
    best = "coalesce((SELECT max(best_bpm) FROM line_days WHERE line = ?1), 0)"
    db.execute(f"UPDATE lines SET best_bpm = {best} WHERE id = ?1", (line,))  # noqa: S608 - own words
    db.execute(
        "UPDATE lines SET best_ms = coalesce((SELECT min(at_ms) FROM passes WHERE line = ?1 AND whole "
        "AND outcome = 'clean' AND tempo_bpm = lines.best_bpm), 0) WHERE id = ?1",
        (line,),
    )


def _count_exercise(db: sqlite3.Connection, line: int, counts: tuple[float, ...]) -> None:
    db.execute(
        "UPDATE exercises SET passes = passes + ?, clean = clean + ?, missed = missed + ?, seconds = seconds + ?, "
        "(best_bpm, last_ms, due_day) = (SELECT max(best_bpm), max(last_ms), min(due_day) FROM lines "
        "WHERE exercise = exercises.id) WHERE id = (SELECT exercise FROM lines WHERE id = ?)",
        (*counts, line),
    )


def _count_review(db: sqlite3.Connection, row: CountedPass) -> None:
    """Space the line again when the day's first attempt is another one now."""
    key = (row.line, row.day)
    (first_ms,) = db.execute("SELECT first_ms FROM line_days WHERE line = ? AND day = ?", key).fetchone()
    if first_ms is not None and row.at_ms > first_ms:
        return
    _find_first(db, *key)
    space(db, row.line, row.day)


def _find_first(db: sqlite3.Connection, line: int, day: int) -> None:
    found = db.execute(
        "SELECT at_ms, outcome FROM passes WHERE line = ? AND day = ? AND whole AND outcome IN ('clean', 'missed') "
        "ORDER BY at_ms, id LIMIT 1",
        (line, day),
    ).fetchone()
    db.execute(
        "UPDATE line_days SET first_ms = ?, first_outcome = ?, stability = NULL, difficulty = NULL "
        "WHERE line = ? AND day = ?",
        (*(found or (None, None)), line, day),
    )


def space(db: sqlite3.Connection, line: int, since: int) -> None:
    """Review the line's days again from `since` on, and set when it is due."""
    memory: Retention | None = None
    before = db.execute(
        "SELECT stability, difficulty, day FROM line_days WHERE line = ? AND day < ? AND stability IS NOT NULL "
        "ORDER BY day DESC LIMIT 1",
        (line, since),
    ).fetchone()
    if before:
        last = date.fromordinal(before[2])
        memory = Retention(before[0], before[1], last, last)
    later = db.execute(
        "SELECT day, first_outcome FROM line_days WHERE line = ? AND day BETWEEN max(?, 1) AND ? "
        "AND first_outcome IN ('clean', 'missed') ORDER BY day",
        (line, since, date.max.toordinal()),
    ).fetchall()
    for day, outcome in later:
        memory = review(memory, date.fromordinal(day), Outcome(outcome))
        db.execute(
            "UPDATE line_days SET stability = ?, difficulty = ? WHERE line = ? AND day = ?",
            (memory.stability, memory.difficulty, line, day),
        )
    if memory is None:
        facts: tuple[Any, ...] = (None, None, None, None)
    elif later:
        facts = (memory.stability, memory.difficulty, memory.reviewed.toordinal(), memory.due.toordinal())
    else:  # the last reviewed day was taken out: the day before it says when the line is due
        return space(db, line, memory.reviewed.toordinal())
    db.execute(
        "UPDATE lines SET stability = ?, difficulty = ?, reviewed_day = ?, due_day = ? WHERE id = ?", (*facts, line)
    )
    return None


def rebuild(db: sqlite3.Connection) -> None:
    """Derive every count again from the passes; call inside a transaction."""
    for table in COUNTED:
        if table not in {"exercises", "lines"}:
            db.execute(f"DELETE FROM {table}")  # noqa: S608 - own names
    outcomes = "count(*), sum(outcome = 'clean'), sum(outcome = 'missed'), sum(seconds)"
    best = "max(CASE WHEN whole AND outcome = 'clean' THEN tempo_bpm ELSE 0 END)"
    figures = ", ".join(
        f"count(json_extract(verdict, '$.measured.{key}')), total(json_extract(verdict, '$.measured.{key}'))"
        for key in FIGURE_KEYS.values()
    )
    names = ", ".join(f"{figure}_n, {figure}_sum" for figure in FIGURES)
    short = f"outcome <> 'unjudged' AND last_bar - first_bar < {SHORT_LOOP}"
    statements = f"""
    INSERT INTO days SELECT day, {outcomes} FROM passes GROUP BY day;
    INSERT INTO line_days(line, day, passes, clean, missed, seconds, best_bpm, {names})
        SELECT line, day, {outcomes}, {best}, {figures} FROM passes GROUP BY line, day;
    INSERT INTO line_tempos(line, tempo, passes, clean, missed, seconds, {names})
        SELECT line, CAST(tempo_bpm + 0.5 AS INTEGER), {outcomes}, {figures} FROM passes GROUP BY 1, 2;
    INSERT INTO line_versions SELECT line, digest, {outcomes}, {best}, min(at_ms), max(at_ms) FROM passes GROUP BY 1, 2;
    INSERT INTO line_bars SELECT line, bar, sum(played), sum(missed), sum(blamed) FROM (
        SELECT line, first_bar AS bar, 1 AS played, outcome = 'missed' AS missed, 0 AS blamed FROM passes WHERE {short}
        UNION ALL SELECT line, last_bar, 1, outcome = 'missed', 0 FROM passes WHERE {short} AND last_bar > first_bar
        UNION ALL SELECT line, json_extract(value, '$.bar'), 0, 0, 1 FROM passes, json_each(verdict, '$.reasons')
            WHERE json_extract(value, '$.bar') IS NOT NULL) GROUP BY 1, 2;
    UPDATE line_days SET (first_ms, first_outcome) = (SELECT at_ms, outcome FROM passes p WHERE p.line = line_days.line
        AND p.day = line_days.day AND whole AND outcome IN ('clean', 'missed') ORDER BY at_ms, id LIMIT 1);
    UPDATE lines SET (passes, clean, missed, seconds, last_ms) = (SELECT count(*), total(outcome = 'clean'),
        total(outcome = 'missed'), total(seconds), coalesce(max(at_ms), 0) FROM passes WHERE line = lines.id);
    UPDATE lines SET digest = coalesce((SELECT digest FROM passes WHERE line = lines.id AND at_ms = lines.last_ms
        ORDER BY id DESC LIMIT 1), '')"""  # noqa: S608 - own names
    for statement in statements.split(";"):
        db.execute(statement)
    for (line,) in db.execute("SELECT id FROM lines").fetchall():
        _find_line_best(db, line)
        space(db, line, 0)
    db.execute(
        "UPDATE exercises SET (passes, clean, missed, seconds, best_bpm, last_ms, due_day) = "
        "(SELECT sum(passes), sum(clean), sum(missed), sum(seconds), max(best_bpm), max(last_ms), min(due_day) "
        "FROM lines WHERE exercise = exercises.id) WHERE id IN (SELECT exercise FROM lines)"
    )
