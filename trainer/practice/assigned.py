"""What a teacher has asked for, as the log keeps it: bars, tempo, minutes a day, a date, and the teacher's words.

One assignment for each line: the last one that came for it counts. Where the whole riff is asked for, its tempo is a
goal too; a goal counts whole passes, so that bars alone are none. Whether an assignment is done, the record tells.
"""

import sqlite3
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from itertools import groupby
from typing import Any, NamedTuple
from uuid import NAMESPACE_OID, uuid5

from trainer.practice.goals import GOAL_PASSES, Goal, goals, put_goal
from trainer.practice.line import Line
from trainer.practice.passes import FIRST, LAST, MOST_BARS
from trainer.practice.recording import line_id
from trainer.practice.schema import understood


@dataclass(frozen=True, slots=True)
class KeptAssignment:
    """One line to practise, because a teacher asked for it.

    >>> line = Line("iron-causeway", "Low road", "guitar 1")
    >>> kept = KeptAssignment(line, 132.0, datetime(2031, 3, 1, tzinfo=UTC), bars=(1, 4), minutes=10)
    >>> kept.place
    'Low road, bars 1 to 4, guitar 1'
    """

    line: Line
    tempo_bpm: float
    """The tempo to reach."""
    set_at: datetime
    """When it was asked for, with a time zone. What was played before does not count."""
    name: str = ""
    """What the teacher calls it."""
    teacher: str = ""
    source: str = ""
    """The file, or the set, in which it came."""
    bars: tuple[int, ...] = ()
    """The first and the last bar, counted from 1; empty for the whole riff."""
    by: date | None = None
    """The day it should be ready; None when there is no hurry."""
    minutes: int = 0
    """Minutes a day; 0 when the teacher leaves it open."""
    note: str = ""
    """The teacher's words."""

    def __post_init__(self) -> None:
        """Raise ValueError for what no teacher can ask for."""
        if not 0 < self.tempo_bpm < 1000:
            raise ValueError(f"{self.tempo_bpm:g} bpm is no tempo to reach")
        if self.set_at.tzinfo is None or not FIRST <= self.set_at <= LAST:
            raise ValueError(f"no assignment was set at {self.set_at.isoformat()}")
        if not 0 <= self.minutes <= 24 * 60:
            raise ValueError(f"{self.minutes} minutes a day cannot be practised")
        if self.bars and not (len(self.bars) == 2 and 1 <= self.bars[0] <= self.bars[1] <= MOST_BARS):
            raise ValueError("bars are the first and the last one")

    @property
    def bar_words(self) -> str:
        """Its bars in words; empty for the whole riff."""
        if not self.bars:
            return ""
        first, last = self.bars
        return f"bar {first}" if first == last else f"bars {first} to {last}"

    @property
    def place(self) -> str:
        """Riff, bars and part in words."""
        return ", ".join(word for word in (self.line.riff, self.bar_words, self.line.part) if word)


class Standing(NamedTuple):
    """An assignment, and how far it is."""

    assignment: KeptAssignment
    done: date | None
    """The day on which it was reached; None when it is still to do."""

    def state(self, today: date) -> str:
        """Say "done", "late", or nothing when there is time left."""
        if self.done is not None:
            return "done"
        by = self.assignment.by
        return "late" if by is not None and by < today else ""


class Replaced(NamedTuple):
    """What setting assignments changed."""

    goals: int
    """Goals that are new or changed."""
    gone: int
    """Assignments of the same source that it no longer holds."""


def assignments(db: sqlite3.Connection) -> tuple[KeptAssignment, ...]:
    """Every assignment: the nearest date first, then those without a date, each in the teacher's order."""
    found = db.execute(
        "SELECT exercise, riff, part, tempo_bpm, set_ms, name, teacher, source, first_bar, last_bar, by_day, minutes, "
        "note FROM assignments ORDER BY by_day IS NULL, by_day, rowid"
    )
    return tuple(understood(_assignment, found))


def standings(db: sqlite3.Connection) -> tuple[Standing, ...]:
    """Every assignment with the day it was reached: so many clean passes in a row as a goal needs, on one day."""
    return tuple(Standing(each, _reached(db, each)) for each in assignments(db))


def set_assignments(db: sqlite3.Connection, source: str, asked: Sequence[KeptAssignment], at_ms: int) -> Replaced:
    """Keep what a teacher asks for instead of what came from the same source before, with its goals.

    What was asked for before and has not changed goes on from when it was first set.

    Args:
        db: inside a transaction.
        source: the file or the set in which they came.
        asked: the assignments, at most one for each line.
        at_ms: now, in milliseconds since 1970.
    """
    before = {each.line: each for each in assignments(db)}
    goal_of = {goal.uuid: goal for goal in goals(db)}
    lines = {each.line for each in asked}
    gone = [each.line for each in before.values() if each.source == source and each.line not in lines]
    remove_assignments(db, gone)
    changed = 0
    for each in asked:
        known = before.get(each.line)
        same = known is not None and (known.tempo_bpm, known.bars) == (each.tempo_bpm, each.bars)
        put_assignment(db, replace(each, set_at=known.set_at) if known is not None and same else each)
        goal = Goal(goal_uuid(each.line), each.line, each.tempo_bpm, each.by, datetime.fromtimestamp(at_ms / 1000, UTC))
        old = goal_of.get(goal.uuid)
        if each.bars:
            db.execute("DELETE FROM goals WHERE uuid = ? AND state = 'kept'", (goal.uuid,))
        elif old is None or (old.target_bpm, old.by) != (goal.target_bpm, goal.by):
            put_goal(db, goal)
            changed += 1
    return Replaced(changed, len(gone))


def put_assignment(db: sqlite3.Connection, kept: KeptAssignment) -> None:
    """Keep one, instead of the one for its line."""
    first, last = kept.bars or (None, None)
    db.execute(
        "INSERT OR REPLACE INTO assignments(exercise, riff, part, tempo_bpm, set_ms, name, teacher, source, first_bar, "
        "last_bar, by_day, minutes, note) VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *kept.line,
            float(kept.tempo_bpm),
            round(kept.set_at.timestamp() * 1000),
            kept.name,
            kept.teacher,
            kept.source,
            first,
            last,
            None if kept.by is None else kept.by.toordinal(),
            kept.minutes,
            kept.note,
        ),
    )


def remove_assignments(db: sqlite3.Connection, lines: Collection[Line]) -> int:
    """Take assignments away, with the goals they set that are not reached; returns how many there were."""
    db.executemany("DELETE FROM goals WHERE uuid = ? AND state = 'kept'", [(goal_uuid(line),) for line in lines])
    return sum(
        db.execute("DELETE FROM assignments WHERE (exercise, riff, part) = (?, ?, ?)", line).rowcount for line in lines
    )


def remove_source(db: sqlite3.Connection, source: str) -> int:
    """Take away every assignment that came in one file or set; returns how many there were."""
    return remove_assignments(db, [each.line for each in assignments(db) if each.source == source])


def goal_uuid(line: Line) -> str:
    """The uuid of the goal that an assignment sets: the line's own, so that another tempo changes the goal."""
    return uuid5(NAMESPACE_OID, "\n".join(("assignment", *line))).hex


def by_exercise(kept: Iterable[Standing]) -> dict[str, tuple[Standing, ...]]:
    """Assignments by the exercise they are of, in their order."""
    answer: dict[str, tuple[Standing, ...]] = {}
    for each in kept:
        name = each.assignment.line.exercise
        answer[name] = (*answer.get(name, ()), each)
    return answer


def _reached(db: sqlite3.Connection, kept: KeptAssignment) -> date | None:
    """The day on which it was played clean often enough in a row, at its tempo; None for none yet."""
    first, last = kept.bars or (None, None)
    found = db.execute(
        "SELECT day, outcome FROM passes WHERE line = ? AND at_ms >= ? AND tempo_bpm >= ? AND outcome <> 'unjudged' "
        "AND (whole OR (first_bar <= ? AND last_bar >= ?)) ORDER BY day, at_ms, id",
        (line_id(db, kept.line), round(kept.set_at.timestamp() * 1000), kept.tempo_bpm - 0.5, first, last),
    )  # the ladder counts in whole bpm
    for day, passes in groupby(found, key=lambda row: int(row[0])):
        if any(clean and sum(1 for _ in run) >= GOAL_PASSES for clean, run in groupby(o == "clean" for _, o in passes)):
            return next(understood(lambda row: date.fromordinal(row[0]), [(day,)]), None)
    return None


def _assignment(row: tuple[Any, ...]) -> KeptAssignment:
    exercise, riff, part, tempo, set_ms, name, teacher, source, first, last, by_day, minutes, note = row
    return KeptAssignment(
        Line(exercise, riff, part),
        tempo,
        datetime.fromtimestamp(set_ms / 1000, UTC),
        name,
        teacher,
        source,
        () if first is None or last is None else (first, last),
        None if by_day is None else date.fromordinal(by_day),
        minutes,
        note,
    )
