"""Exporting the record and reading an export: JSON with passes, goals and assignments, CSV with passes, one a line.

What an export wrote can be imported into any log (`practice.importing`). Reading one is all or nothing: a file with one
wrong line gives nothing, and says which line.
"""

import csv
import io
import json
import sqlite3
from collections.abc import Iterable, Iterator
from datetime import UTC
from pathlib import Path
from typing import Any, NamedTuple

from trainer.music.problem import Problem, ProblemsError
from trainer.new_file import new_file
from trainer.practice.assigned import KeptAssignment, assignments
from trainer.practice.goals import Goal, goals
from trainer.practice.line import Line
from trainer.practice.passes import Pass
from trainer.practice.reading import SELECT_PASSES, read_pass
from trainer.practice.schema import understood
from trainer.values import NotUnderstoodError, plain, read

FORMAT = "twinspur practice log"
FORMAT_VERSION = 1
LINE_COLUMNS = ("exercise", "riff", "part", "digest", "first_bar", "last_bar", "whole")
COLUMNS = ("uuid", "at", "day", *LINE_COLUMNS, "tempo_bpm", "seconds", "way", "outcome", "judge", "verdict")
"""Of the CSV; `verdict` holds reasons and measured figures as JSON, and is empty where there are none."""
MOST_PROBLEMS = 20


class Exported(NamedTuple):
    """What an export holds, or another log."""

    passes: list[Pass]
    goals: list[Goal]
    assignments: list[KeptAssignment]


def write_json(db: sqlite3.Connection) -> Iterator[str]:
    """The whole record as JSON, one pass, goal or assignment a line; each string ends a line."""
    yield f'{{"format": {json.dumps(FORMAT)}, "version": {FORMAT_VERSION}, '
    asked = assignments(db)
    if asked:
        yield '"assignments": [\n'
        yield from _joined(json.dumps(_assignment_values(each), ensure_ascii=False) for each in asked)
        yield "], "
    yield '"goals": [\n'
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

    A new file can be read by nobody but the player; one that is replaced keeps its permissions.

    Raises:
        ProblemsError: when it cannot be written; what stood at `path` still stands there.
    """
    write = write_csv if path.suffix.casefold() == ".csv" else write_json
    with new_file(path, mode=0o600) as unfinished, unfinished.open("w", encoding="utf-8", newline="") as out:
        out.writelines(write(db))


def read_export(lines: Iterable[str], file: str) -> Exported:
    """What an export holds, JSON or CSV.

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
        return Exported(_read_csv(kept, file), [], [])
    hint = "Give a file that `log --export` wrote, JSON or CSV"
    raise ProblemsError([Problem(file, 1, 0, "This is no export of a practice log", "", hint)])


def _passes(db: sqlite3.Connection) -> Iterator[Pass]:
    return understood(read_pass, db.execute(SELECT_PASSES + "ORDER BY passes.id"))


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


def _assignment_values(kept: KeptAssignment) -> dict[str, Any]:
    values = {**kept.line._asdict(), **plain(kept), "set_at": kept.set_at.isoformat(timespec="milliseconds")}
    del values["line"]
    return values


def _flat(values: object) -> dict[str, object]:
    """A pass, goal or assignment with its line as one value, as `values.read` takes it. Raises NotUnderstoodError."""
    if not isinstance(values, dict):
        raise NotUnderstoodError("this must be a table")
    for name in Line._fields:
        if name not in values:
            raise NotUnderstoodError(f'"{name}" is missing')
    try:
        json.dumps(values, ensure_ascii=False).encode()
    except UnicodeEncodeError:  # half a surrogate pair is no text, and no database takes it
        raise NotUnderstoodError("a text in it is cut inside a character") from None
    return values | {"line": [values[name] for name in Line._fields]}


def _read_json(first: str, rest: Iterator[str], file: str) -> Exported:
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
    kinds: dict[str, type[Any]] = {"goals": Goal, "passes": Pass, "assignments": KeptAssignment}
    found: dict[str, list[Any]] = {key: [] for key in kinds}
    problems = []
    for key, kind in kinds.items():
        items = whole.get(key, [])
        if not isinstance(items, list):
            problems.append(Problem(file, 1, 0, f'"{key}" must be a list', "", "Export the log again"))
            continue
        for number, values in enumerate(items, 1):
            try:
                found[key].append(read(kind, _flat(values)))
            except NotUnderstoodError as error:
                problems.append(Problem(file, 0, 0, f"Number {number} of the {key} is wrong: {error}"))
    if problems:
        raise ProblemsError(problems[:MOST_PROBLEMS])
    return Exported(**found)


def _read_csv(rest: Iterator[str], file: str) -> list[Pass]:
    passes = []
    problems: list[Problem] = []
    reader = csv.DictReader(rest, COLUMNS, strict=True)
    try:
        for cells in reader:
            try:
                verdict = {"outcome": cells["outcome"], "judge": cells["judge"]} | json.loads(cells["verdict"] or "{}")
                passes.append(read(Pass, _flat(cells | {"verdict": verdict}), as_texts=True))
            except (NotUnderstoodError, ValueError, TypeError, KeyError) as error:
                problems.append(Problem(file, reader.line_num + 1, 0, f"This pass is wrong: {error}"))
    except csv.Error as error:
        problems.append(Problem(file, reader.line_num + 1, 0, f"The export was changed: {error}"))
    if problems:
        raise ProblemsError(problems[:MOST_PROBLEMS])
    return passes
