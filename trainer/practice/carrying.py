"""Carrying the record out and in: JSON with passes and goals, CSV with passes, one a line.

What an export wrote can be imported into any log, as often as one likes: a pass is known by its uuid. An import is all
or nothing: a file with one wrong line changes nothing, and says which line.
"""

import csv
import io
import json
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, NamedTuple

from trainer.music.problem import Problem, ProblemsError
from trainer.practice.goals import Goal, GoalState, goals, put_goal
from trainer.practice.line import Line
from trainer.practice.passes import Pass
from trainer.practice.reading import SELECT_PASSES, read_pass
from trainer.practice.recording import INSERT_INTO_PASSES, add_pass, new_line_id, pass_values
from trainer.practice.tally import rebuild
from trainer.practice.verdict import Verdict

FORMAT = "twinspur practice log"
FORMAT_VERSION = 1
LINE_COLUMNS = ("exercise", "riff", "part", "digest", "first_bar", "last_bar", "whole")
COLUMNS = ("uuid", "at", "day", *LINE_COLUMNS, "tempo_bpm", "seconds", "way", "outcome", "judge", "verdict")
"""Of the CSV; `verdict` holds reasons and measured figures as JSON, and is empty where there are none."""
MOST_PROBLEMS = 20
FEW = 2000
"""Up to so many new passes are counted one by one; with more, all counts are derived again, which is quicker."""


class Imported(NamedTuple):
    """What an import brought."""

    passes: int
    """New passes."""
    known: int
    """Passes that were in the log already."""
    goals: int
    """New goals."""


def write_json(db: sqlite3.Connection) -> Iterator[str]:
    """The whole record as JSON, one pass or goal a line; each string ends a line."""
    yield f'{{"format": {json.dumps(FORMAT)}, "version": {FORMAT_VERSION}, "goals": [\n'
    yield from _joined(json.dumps(_goal_values(goal), ensure_ascii=False) for goal in goals(db))
    yield '], "passes": [\n'
    yield from _joined(json.dumps(_pass_values(played), ensure_ascii=False) for played in _passes(db))
    yield "]}\n"


def write_csv(db: sqlite3.Connection) -> Iterator[str]:
    """The passes as CSV (RFC 4180) with a heading; each string ends a line."""
    buffer = io.StringIO()
    yield ",".join(COLUMNS) + "\r\n"
    writer = csv.DictWriter(buffer, COLUMNS)
    for played in _passes(db):
        values = _pass_values(played)
        verdict = values.pop("verdict")
        more = {key: value for key, value in verdict.items() if key not in {"outcome", "judge"}}
        cells = values | {"outcome": verdict["outcome"], "judge": verdict["judge"], "whole": int(values["whole"])}
        writer.writerow(cells | {"verdict": json.dumps(more, ensure_ascii=False) if more else ""})
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()


def export_file(db: sqlite3.Connection, path: Path) -> None:
    """Write the record to `path`, as CSV when its name ends so and as JSON otherwise; the whole file or none.

    Raises:
        OSError: when it cannot be written; what stood at `path` still stands there.
    """
    write = write_csv if path.suffix.casefold() == ".csv" else write_json
    with tempfile.NamedTemporaryFile(
        "w", encoding="utf-8", newline="", dir=path.parent, prefix=f".{path.name}-", delete=False
    ) as out:
        unfinished = Path(out.name)
        try:
            out.writelines(write(db))
            out.close()
            unfinished.replace(path)
        except BaseException:
            out.close()
            unfinished.unlink(missing_ok=True)
            raise


def read_export(lines: Iterable[str], file: str) -> tuple[list[Pass], list[Goal]]:
    """The passes and goals of an export, JSON or CSV.

    Args:
        lines: the file's lines, with their line ends.
        file: its name, for problems.

    Raises:
        ProblemsError: names every line (up to 20) that no export wrote.
    """
    kept = iter(lines)
    first = next(kept, "")
    if first.lstrip("\ufeff").startswith("{"):
        return _read_json(first, kept, file)
    if first.lstrip("\ufeff").strip().split(",")[: len(COLUMNS)] == list(COLUMNS):
        return _read_csv(kept, file), []
    hint = "Give a file that `log --export` wrote, JSON or CSV"
    raise ProblemsError([Problem(file, 1, 0, "This is no export of a practice log", "", hint)])


def import_all(db: sqlite3.Connection, passes: list[Pass], wanted: list[Goal]) -> Imported:
    """Add what is new; call it through `Log.change`, so that it is one transaction."""
    before = _size(db)
    if len(passes) <= FEW:
        for played in passes:
            add_pass(db, played)
    else:
        numbers = {line: new_line_id(db, line) for line in dict.fromkeys(played.line for played in passes)}
        db.executemany(INSERT_INTO_PASSES, (pass_values(played, numbers[played.line]) for played in passes))
        rebuild(db)
    known = {goal.uuid for goal in goals(db)}
    new_goals = [goal for goal in wanted if goal.uuid not in known]
    for goal in new_goals:
        put_goal(db, goal)
    new = _size(db) - before
    return Imported(new, len(passes) - new, len(new_goals))


def _size(db: sqlite3.Connection) -> int:
    return int(db.execute("SELECT count(*) FROM passes").fetchone()[0])


def _passes(db: sqlite3.Connection) -> Iterator[Pass]:
    return map(read_pass, db.execute(SELECT_PASSES + "ORDER BY passes.id"))


def _joined(items: Iterable[str]) -> Iterator[str]:
    """Each item on its line, with a comma before every one but the first."""
    for number, item in enumerate(items):
        yield f"{', ' if number else '  '}{item}\n"


def _pass_values(played: Pass) -> dict[str, Any]:
    return {
        "uuid": played.uuid,
        "at": played.at.astimezone(UTC).isoformat(timespec="milliseconds"),
        "day": played.day.isoformat(),
        **played.line._asdict(),
        "digest": played.digest,
        "first_bar": played.first_bar,
        "last_bar": played.last_bar,
        "whole": played.whole,
        "tempo_bpm": played.tempo_bpm,
        "seconds": played.seconds,
        "way": played.way,
        "verdict": played.verdict.as_dict(),
    }


def _pass(values: dict[str, Any]) -> Pass:
    return Pass(
        str(values["uuid"]),
        datetime.fromisoformat(values["at"]),
        date.fromisoformat(values["day"]),
        Line(_text(values["exercise"]), _text(values["riff"]), _text(values["part"])),
        _text(values["digest"]),
        int(values["first_bar"]),
        int(values["last_bar"]),
        bool(values["whole"]),
        float(values["tempo_bpm"]),
        float(values["seconds"]),
        Verdict.from_dict(values["verdict"]),
        _text(values["way"]),
    )


def _goal_values(goal: Goal) -> dict[str, Any]:
    return {
        "uuid": goal.uuid,
        **goal.line._asdict(),
        "target_bpm": goal.target_bpm,
        "by": goal.by.isoformat() if goal.by else None,
        "set_at": goal.set_at.isoformat(timespec="milliseconds"),
        "state": str(goal.state),
        "changed_at": goal.changed_at.isoformat(timespec="milliseconds") if goal.changed_at else None,
    }


def _goal(values: dict[str, Any]) -> Goal:
    return Goal(
        _text(values["uuid"]),
        Line(_text(values["exercise"]), _text(values["riff"]), _text(values["part"])),
        float(values["target_bpm"]),
        date.fromisoformat(values["by"]) if values["by"] else None,
        datetime.fromisoformat(values["set_at"]),
        GoalState(values["state"]),
        datetime.fromisoformat(values["changed_at"]) if values["changed_at"] else None,
    )


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    value.encode()  # half a surrogate pair is no text either, and no database takes it
    return value


def _read_json(first: str, rest: Iterator[str], file: str) -> tuple[list[Pass], list[Goal]]:
    try:
        whole = json.loads(first.lstrip("\ufeff") + "".join(rest))
    except (json.JSONDecodeError, RecursionError) as error:
        place = (getattr(error, "lineno", 0), getattr(error, "colno", 0))
        what = "The export is cut short or was changed: it is no JSON here"
        raise ProblemsError([Problem(file, *place, what, "", "Export the log again")]) from None
    if not isinstance(whole, dict) or whole.get("format") != FORMAT:
        hint = "Give a file that `log --export` wrote, JSON or CSV"
        raise ProblemsError([Problem(file, 1, 0, "This is no export of a practice log", "", hint)])
    if whole.get("version") != FORMAT_VERSION:
        hint = "Update the program to read it"
        raise ProblemsError([Problem(file, 1, 0, "The export was written by a newer version of the program", "", hint)])
    found: dict[str, list[Any]] = {"goals": [], "passes": []}
    problems = []
    for key, read in (("goals", _goal), ("passes", _pass)):
        items = whole.get(key)
        for number, values in enumerate(items if isinstance(items, list) else [], 1):
            try:
                found[key].append(read(values))
            except (ValueError, TypeError, KeyError, AttributeError, OverflowError) as error:
                problems.append(Problem(file, 0, 0, f"Number {number} of the {key} is wrong: {_why(error)}"))
    if problems:
        raise ProblemsError(problems[:MOST_PROBLEMS])
    return found["passes"], found["goals"]


def _read_csv(rest: Iterator[str], file: str) -> list[Pass]:
    passes = []
    problems: list[Problem] = []
    reader = csv.DictReader(rest, COLUMNS, strict=True)
    try:
        for cells in reader:
            try:
                verdict = {"outcome": cells["outcome"], "judge": cells["judge"]} | json.loads(cells["verdict"] or "{}")
                passes.append(_pass(cells | {"verdict": verdict, "whole": int(cells["whole"])}))
            except (ValueError, TypeError, KeyError, AttributeError, OverflowError) as error:
                problems.append(Problem(file, reader.line_num + 1, 0, f"This pass is wrong: {_why(error)}"))
    except csv.Error as error:
        problems.append(Problem(file, reader.line_num + 1, 0, f"The export was changed: {error}"))
    if problems:
        raise ProblemsError(problems[:MOST_PROBLEMS])
    return passes


def _why(error: Exception) -> str:
    return f"{error} is missing" if isinstance(error, KeyError) else str(error)
