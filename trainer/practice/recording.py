"""Writing a pass: the pass, every count, the goals it reaches and where the player stands, all at once."""

import json
import sqlite3
from datetime import date
from typing import Any

from trainer.practice.goals import Goal, reach
from trainer.practice.line import Line
from trainer.practice.passes import Pass
from trainer.practice.sittings import Place, keep_place
from trainer.practice.tally import count, row
from trainer.practice.verdict import Outcome, Verdict

INSERT_INTO_PASSES = (
    "INSERT OR IGNORE INTO passes(uuid, at_ms, day, line, digest, first_bar, last_bar, whole, tempo_bpm, seconds, "
    "outcome, way, verdict) VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)


def line_id(db: sqlite3.Connection, line: Line) -> int | None:
    """The line's number; None when it was never practised."""
    found = db.execute(
        "SELECT lines.id FROM lines JOIN exercises ON exercises.id = lines.exercise "
        "WHERE exercises.name = ? AND riff = ? AND part = ?",
        line,
    ).fetchone()
    return None if found is None else int(found[0])


def new_line_id(db: sqlite3.Connection, line: Line) -> int:
    """The line's number; it is entered when it is new."""
    known = line_id(db, line)
    if known is not None:
        return known
    db.execute("INSERT OR IGNORE INTO exercises(name) VALUES(?)", (line.exercise,))
    db.execute(
        "INSERT INTO lines(exercise, riff, part) SELECT id, ?, ? FROM exercises WHERE name = ?",
        (line.riff, line.part, line.exercise),
    )
    return new_line_id(db, line)


def pass_values(played: Pass, line: int) -> tuple[Any, ...]:
    """The values of `INSERT_INTO_PASSES`."""
    return (
        bytes.fromhex(played.uuid),
        played.at_ms,
        played.day.toordinal(),
        line,
        played.digest,
        played.first_bar,
        played.last_bar,
        int(played.whole),
        float(played.tempo_bpm),
        float(played.seconds),
        str(played.outcome),
        played.way,
        json.dumps(played.verdict.as_dict(), ensure_ascii=False, separators=(",", ":")),
    )


def add_pass(
    db: sqlite3.Connection,
    played: Pass,
    ladder: dict[str, Any] | None = None,
    place: Place | None = None,
    sitting: str = "",
) -> tuple[Goal, ...]:
    """Log a pass; one that is in the log already (by its uuid) changes nothing.

    Args:
        db: inside a transaction.
        played: the pass.
        ladder: where the player now stands on the line's ladder (`Ladder.as_dict`).
        place: where the player now is in the sitting.
        sitting: the sitting's id.

    Returns:
        The goals that this pass reached.
    """
    line = new_line_id(db, played.line)
    if ladder is not None:
        keep_ladder(db, played.line, ladder, played.at_ms)
    if place is not None:
        keep_place(db, sitting, place, played.at_ms)
    if not db.execute(INSERT_INTO_PASSES, pass_values(played, line)).rowcount:
        return ()
    entered = row(db, bytes.fromhex(played.uuid))
    if entered is not None:
        count(db, entered)
    if not played.whole or played.outcome is not Outcome.CLEAN:
        return ()
    return reach(db, played.line, line, day=played.day, tempo_bpm=played.tempo_bpm, at_ms=played.at_ms)


def amend_pass(db: sqlite3.Connection, uuid: str, verdict: Verdict, at_ms: int) -> tuple[Goal, ...]:
    """Give a logged pass another verdict: a key pressed by mistake, or the take's word that came later.

    Args:
        db: inside a transaction.
        uuid: the pass; nothing happens when it is not in the log.
        verdict: what it was after all.
        at_ms: now, in milliseconds since 1970.

    Returns:
        The goals that are reached by it.
    """
    before = row(db, bytes.fromhex(uuid))
    if before is None:
        return ()
    change = "UPDATE passes SET outcome = ?, verdict = ? WHERE id = ?"
    db.execute(change, ("unjudged", "{}", before.id))
    count(db, before, -1)
    told = json.dumps(verdict.as_dict(), ensure_ascii=False, separators=(",", ":"))
    db.execute(change, (str(verdict.outcome), told, before.id))
    count(db, before._replace(outcome=str(verdict.outcome), verdict=told))
    if not before.whole or verdict.outcome is not Outcome.CLEAN:
        return ()
    exercise, riff, part, day = db.execute(
        "SELECT name, riff, part, day FROM passes JOIN lines ON lines.id = line JOIN exercises "
        "ON exercises.id = lines.exercise WHERE passes.id = ?",
        (before.id,),
    ).fetchone()
    line = Line(exercise, riff, part)
    return reach(db, line, before.line, day=date.fromordinal(day), tempo_bpm=before.tempo_bpm, at_ms=at_ms)


def keep_ladder(db: sqlite3.Connection, line: Line, position: dict[str, Any], at_ms: int) -> None:
    """Keep where the player stands on the line's ladder."""
    db.execute(
        "INSERT OR REPLACE INTO ladders VALUES(?, ?, ?)",
        (new_line_id(db, line), json.dumps(position, separators=(",", ":")), at_ms),
    )
