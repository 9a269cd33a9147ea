"""Goals: a target tempo for one line, with an optional date. Kept, reached or given up."""

import sqlite3
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any

from trainer.practice.line import Line
from trainer.practice.passes import FIRST, LAST
from trainer.practice.schema import understood

GOAL_PASSES = 3
"""House rule, as on the ladder: so many whole clean passes in a row, on one day, at the target or over it."""


class GoalState(StrEnum):
    """What became of a goal."""

    KEPT = "kept"
    REACHED = "reached"
    GIVEN_UP = "given up"


@dataclass(frozen=True, slots=True)
class Goal:
    """A tempo that the player wants for one line.

    >>> line = Line("iron-causeway", "Low road", "guitar 1")
    >>> goal = Goal("0" * 32, line, 168.0, by=date(2031, 6, 1), set_at=datetime(2031, 3, 1, tzinfo=UTC))
    >>> goal.state
    <GoalState.KEPT: 'kept'>
    """

    uuid: str
    """Its name for ever: 32 hexadecimal digits."""
    line: Line
    target_bpm: float
    by: date | None
    """The date it is wanted by; None when there is no hurry."""
    set_at: datetime
    """When it was set, with a time zone."""
    state: GoalState = GoalState.KEPT
    changed_at: datetime | None = None
    """When it was reached, given up or taken up again; None: never."""

    def __post_init__(self) -> None:
        """Raise ValueError for a target that is no tempo, or a moment without a time zone."""
        if not 0 < self.target_bpm < 1000:
            raise ValueError(f"{self.target_bpm:g} bpm is no target")
        for moment in (self.set_at, self.changed_at or self.set_at):
            if moment.tzinfo is None:
                raise ValueError("the moment of a goal needs a time zone")
            if not FIRST <= moment <= LAST:
                raise ValueError(f"no goal was set or changed at {moment.isoformat()}")


def put_goal(db: sqlite3.Connection, goal: Goal) -> None:
    """Set a goal, or change the one of the same uuid."""
    set_ms = round(goal.set_at.timestamp() * 1000)
    changed = goal.changed_at or goal.set_at
    db.execute(
        "INSERT OR REPLACE INTO goals VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            goal.uuid,
            *goal.line,
            float(goal.target_bpm),
            None if goal.by is None else goal.by.toordinal(),
            str(goal.state),
            set_ms,
            round(changed.timestamp() * 1000),
        ),
    )


def change_goal(db: sqlite3.Connection, uuid: str, state: GoalState, at_ms: int) -> None:
    """Give a goal up, take it up again, or call it reached; nothing happens when there is none of this uuid."""
    db.execute("UPDATE goals SET state = ?, changed_ms = ? WHERE uuid = ?", (str(state), at_ms, uuid))


def goals(db: sqlite3.Connection, exercise: str | None = None, state: GoalState | None = None) -> tuple[Goal, ...]:
    """The goals of one exercise or of all, in one state or in any: dated ones first, the nearest date before others."""
    found = db.execute(
        "SELECT * FROM goals WHERE (?1 IS NULL OR exercise = ?1) AND (?2 IS NULL OR state = ?2) "
        "ORDER BY by_day IS NULL, by_day, set_ms, uuid",
        (exercise, None if state is None else str(state)),
    )
    return tuple(understood(_goal, found))


def reach(
    db: sqlite3.Connection, line: Line, number: int, *, day: date, tempo_bpm: float, at_ms: int
) -> tuple[Goal, ...]:
    """Mark as reached what `GOAL_PASSES` whole clean passes in a row on `day` have reached, and return it.

    Args:
        db: inside a transaction.
        line: whose goals.
        number: the line's number in the log.
        day: the day of the clean pass that was just entered.
        tempo_bpm: its tempo.
        at_ms: now, in milliseconds since 1970.
    """
    kept = db.execute(
        "SELECT * FROM goals WHERE (exercise, riff, part) = (?, ?, ?) AND state = 'kept' AND target_bpm <= ?",
        (*line, tempo_bpm + 0.5),  # the ladder counts in whole bpm
    ).fetchall()
    answer = []
    for goal in understood(_goal, kept):
        last = db.execute(
            "SELECT outcome FROM passes WHERE line = ? AND day = ? AND whole AND outcome <> 'unjudged' "
            "AND tempo_bpm >= ? ORDER BY at_ms DESC, id DESC LIMIT ?",
            (number, day.toordinal(), goal.target_bpm - 0.5, GOAL_PASSES),
        ).fetchall()
        if len(last) == GOAL_PASSES and all(outcome == "clean" for (outcome,) in last):
            change_goal(db, goal.uuid, GoalState.REACHED, at_ms)
            answer.append(goal)
    return tuple(answer)


def _goal(row: tuple[Any, ...]) -> Goal:
    uuid, exercise, riff, part, target, by_day, state, set_ms, changed_ms = row
    return Goal(
        uuid,
        Line(exercise, riff, part),
        target,
        None if by_day is None else date.fromordinal(by_day),
        datetime.fromtimestamp(set_ms / 1000, UTC),
        GoalState(state),
        None if changed_ms == set_ms else datetime.fromtimestamp(changed_ms / 1000, UTC),
    )
