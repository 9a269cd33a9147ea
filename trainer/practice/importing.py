"""Bringing passes, goals and assignments into the log, from an export or another log, and taking them out again.

Importing twice doubles nothing, because a pass is known by its uuid. An import is one transaction, and the log
remembers what each one brought, so that the last one can be undone.
"""

import contextlib
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from trainer.music.problem import Problem, ProblemsError
from trainer.practice.assigned import KeptAssignment, assignments, put_assignment
from trainer.practice.export import Exported
from trainer.practice.goals import Goal, GoalState, change_goal, goals, put_goal
from trainer.practice.passes import Pass
from trainer.practice.reading import SELECT_PASSES, read_pass
from trainer.practice.recording import INSERT_INTO_PASSES, add_pass, new_line_id, pass_values
from trainer.practice.schema import APPLICATION_ID, MIGRATIONS, migrate, understood
from trainer.practice.tally import rebuild

T = TypeVar("T")

FEW = 2000
"""Up to so many new passes are counted one by one; with more, all counts are derived again, which is quicker."""
SQLITE_HEADER = b"SQLite format 3\0"
"""How every SQLite file begins."""


class Imported(NamedTuple):
    """What an import brought."""

    passes: int
    """New passes."""
    known: int
    """Passes that were in the log already."""
    goals: int
    """New goals."""
    assignments: int
    """Assignments of lines that had none."""


class Undone(NamedTuple):
    """What undoing an import took out."""

    source: str
    """The file it came from."""
    passes: int
    goals: int
    assignments: int


def import_all(
    db: sqlite3.Connection,
    passes: list[Pass],
    wanted: list[Goal],
    source: str,
    at_ms: int,
    *,
    assigned: Sequence[KeptAssignment] = (),
) -> Imported:
    """Add what is new, and remember it as one import; call it through `Log.change`, so that it is one transaction.

    Args:
        db: inside a transaction.
        passes: those of the file.
        wanted: the file's goals.
        source: the file's name.
        at_ms: now, in milliseconds since 1970.
        assigned: the file's assignments. One that the log has for the same line stays.
    """
    last = int(db.execute("SELECT coalesce(max(id), 0) FROM passes").fetchone()[0])
    before = _states(db)
    if len(passes) <= FEW:
        for played in passes:
            add_pass(db, played)
    else:
        numbers = {line: new_line_id(db, line) for line in dict.fromkeys(played.line for played in passes)}
        db.executemany(INSERT_INTO_PASSES, (pass_values(played, numbers[played.line]) for played in passes))
        rebuild(db)
    reached = [uuid for uuid, state in _states(db).items() if state != before[uuid]]
    known = {goal.uuid for goal in goals(db)}
    new_goals = list({goal.uuid: goal for goal in wanted if goal.uuid not in known}.values())
    for goal in new_goals:
        put_goal(db, goal)
    had = {each.line for each in assignments(db)}
    asked = {each.line: each for each in assigned if each.line not in had}
    for each in asked.values():
        put_assignment(db, each)
    new = int(db.execute("SELECT count(*) FROM passes WHERE id > ?", (last,)).fetchone()[0])
    if new or new_goals or asked:
        about = json.dumps({"new": [goal.uuid for goal in new_goals], "reached": reached, "assigned": list(asked)})
        entered = db.execute("INSERT INTO imports(at_ms, source, goals) VALUES(?, ?, ?)", (at_ms, source, about))
        db.execute("INSERT INTO imported SELECT ?, id FROM passes WHERE id > ?", (entered.lastrowid, last))
    return Imported(new, len(passes) - new, len(new_goals), len(asked))


def undo_import(db: sqlite3.Connection, at_ms: int) -> Undone | None:
    """Take out what the last import brought that was not undone yet; None where there is none.

    What was practised since stays, and so does a goal that was reached by it.
    """
    last = db.execute("SELECT id, source, goals FROM imports ORDER BY id DESC LIMIT 1").fetchone()
    if last is None:
        return None
    number, source, about = last
    brought = json.loads(about)
    passes = db.execute("DELETE FROM passes WHERE id IN (SELECT pass FROM imported WHERE import = ?)", (number,))
    taken = sum(db.execute("DELETE FROM goals WHERE uuid = ?", (uuid,)).rowcount for uuid in brought["new"])
    unasked = sum(
        db.execute("DELETE FROM assignments WHERE (exercise, riff, part) = (?, ?, ?)", line).rowcount
        for line in brought.get("assigned", ())
    )
    states = _states(db)
    for uuid in brought["reached"]:
        if states.get(uuid) == GoalState.REACHED:
            change_goal(db, uuid, GoalState.KEPT, at_ms)
    db.execute("DELETE FROM imported WHERE import = ?", (number,))
    db.execute("DELETE FROM imports WHERE id = ?", (number,))
    db.execute(
        "DELETE FROM lines WHERE id NOT IN (SELECT line FROM passes UNION SELECT line FROM ladders "
        "UNION SELECT line FROM loop_ladders)"
    )
    db.execute("DELETE FROM exercises WHERE id NOT IN (SELECT exercise FROM lines)")
    rebuild(db)
    return Undone(source, passes.rowcount, taken, unasked)


def is_log(path: Path) -> bool:
    """Whether a regular file that can be read is a SQLite database, as the log is."""
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            return file.read(len(SQLITE_HEADER)) == SQLITE_HEADER
    except (OSError, ValueError):
        return False


def read_log(path: Path) -> Exported:
    """What another log holds: one that was set aside, or another machine's. The file is not changed.

    Of a damaged one everything is read that can be.

    Raises:
        ProblemsError: it is no practice log, or one of a newer version.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "log.sqlite"
        shutil.copyfile(path, copy)
        ahead = path.with_name(path.name + "-wal")
        if ahead.exists():
            shutil.copyfile(ahead, copy.with_name(copy.name + "-wal"))
        with contextlib.closing(sqlite3.connect(copy, isolation_level=None)) as db:
            try:
                owner = db.execute("PRAGMA application_id").fetchone()[0]
                version = db.execute("PRAGMA user_version").fetchone()[0]
            except sqlite3.DatabaseError:
                raise _unreadable(path, "Nothing can be read of this log any more", "") from None
            if owner != APPLICATION_ID:
                raise _unreadable(path, "This is no practice log", "Give a log, or a file that `log --export` wrote")
            if version > len(MIGRATIONS):
                what = "This log was written by a newer version of the program"
                raise _unreadable(path, what, "Update the program to read it")
            with contextlib.suppress(sqlite3.DatabaseError):
                migrate(db)
            passes = list(_as_far_as_it_goes(db, read_pass, SELECT_PASSES + "ORDER BY passes.id"))
            return Exported(passes, _if_readable(db, goals), _if_readable(db, assignments))


def _if_readable(db: sqlite3.Connection, query: Callable[[sqlite3.Connection], Iterable[T]]) -> list[T]:
    try:
        return list(query(db))
    except sqlite3.DatabaseError:
        return []


def _as_far_as_it_goes(db: sqlite3.Connection, make: Callable[[tuple[Any, ...]], T], query: str) -> Iterator[T]:
    """What the rows of a query make, up to where the file is damaged."""

    def rows() -> Iterable[tuple[Any, ...]]:
        with contextlib.suppress(sqlite3.DatabaseError):
            yield from db.execute(query)

    return understood(make, rows())


def _states(db: sqlite3.Connection) -> dict[str, str]:
    return dict(db.execute("SELECT uuid, state FROM goals").fetchall())


def _unreadable(path: Path, what: str, hint: str) -> ProblemsError:
    return ProblemsError([Problem(str(path), 0, 0, what, "", hint)])
