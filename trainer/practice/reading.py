"""What the screens ask the log, each answered within 50 ms from a million passes: `log.ask(reading.lines, "iron")`."""

import sqlite3
from datetime import date, timedelta
from typing import Any, NamedTuple

from trainer.practice.line import Line
from trainer.practice.passes import FIRST, LAST, Pass
from trainer.practice.recording import line_id
from trainer.practice.schema import FIGURES, understood
from trainer.practice.verdict import Verdict
from trainer.values import NotUnderstoodError, read_json


class ExerciseRecord(NamedTuple):
    """What the shelf shows of one exercise."""

    exercise: str
    passes: int
    clean: int
    missed: int
    seconds: float
    best_bpm: float
    """Best clean tempo of any of its lines; 0 when there is none."""
    last_ms: int
    """When it was last practised, in milliseconds since 1970; 0 when it was not."""
    due_day: int | None
    """The day its first line is due, as `date.toordinal`; None when nothing was judged."""


class LineRecord(NamedTuple):
    """What is known of one line."""

    line: Line
    digest: str
    """The riff's content when it was last played."""
    passes: int
    clean: int
    missed: int
    seconds: float
    best_bpm: float
    """0 when there is none."""
    best_ms: int
    """When the best was first played; 0 when there is none."""
    last_ms: int
    reviewed: date | None
    due: date | None

    @property
    def clean_share(self) -> float | None:
        """Clean passes per judged pass; None when nothing was judged."""
        judged = self.clean + self.missed
        return self.clean / judged if judged else None


class DayRecord(NamedTuple):
    """One day of practice."""

    day: date
    passes: int
    clean: int
    missed: int
    seconds: float


class LineDay(NamedTuple):
    """One line on one day; the figures are means over the passes that measured them."""

    day: date
    passes: int
    clean: int
    missed: int
    seconds: float
    best_bpm: float
    first_outcome: str | None
    """The first judged attempt at the whole riff: what retention is told by."""
    bias_ms: float | None
    spread_ms: float | None
    gallop_ratio: float | None
    clean_notes: float | None
    """Share of written notes that were clean, as takes measured it."""


class LineTempo(NamedTuple):
    """One line at one tempo (rounded to a whole bpm); figures as in `LineDay`."""

    tempo_bpm: int
    passes: int
    clean: int
    missed: int
    seconds: float
    bias_ms: float | None
    spread_ms: float | None
    gallop_ratio: float | None
    clean_notes: float | None


class BarRecord(NamedTuple):
    """What is known of one bar of a line."""

    bar: int
    passes: int
    """Judged passes over this bar alone, or over it and a neighbour."""
    missed: int
    blamed: int
    """Reasons of verdicts that name the bar."""


class Version(NamedTuple):
    """A line as the riff was written at one time."""

    digest: str
    passes: int
    clean: int
    missed: int
    seconds: float
    best_bpm: float
    first_ms: int
    last_ms: int


_LINE = (
    "SELECT name, riff, part, lines.digest, lines.passes, lines.clean, lines.missed, lines.seconds, lines.best_bpm, "
    "best_ms, lines.last_ms, reviewed_day, lines.due_day FROM lines JOIN exercises ON exercises.id = lines.exercise "
)
_COUNTS = "passes, clean, missed, seconds"
MOST_MS = round((LAST - FIRST).total_seconds() * 1000)
"""No moment is later; one that an earlier version took in is told as this."""
_MEANS = ", ".join(f"{figure}_sum / nullif({figure}_n, 0)" for figure in FIGURES)


def exercises(db: sqlite3.Connection) -> dict[str, ExerciseRecord]:
    """Every exercise that was practised, by its id."""
    found = db.execute(f"SELECT name, {_COUNTS}, best_bpm, last_ms, due_day FROM exercises WHERE passes > 0")  # noqa: S608
    return {record.exercise: record for record in understood(_exercise_record, found)}


def lines(db: sqlite3.Connection, exercise: str) -> tuple[LineRecord, ...]:
    """The lines of one exercise, in the order in which they were first practised."""
    found = db.execute(_LINE + "WHERE name = ? ORDER BY lines.id", (exercise,))
    return tuple(understood(_line_record, found))


def line(db: sqlite3.Connection, line: Line) -> LineRecord | None:
    """What is known of one line; None when it was never practised."""
    found = db.execute(_LINE + "WHERE name = ? AND riff = ? AND part = ?", line).fetchone()
    return next(understood(_line_record, [found] if found else []), None)


def days(db: sqlite3.Connection, first: date, last: date) -> tuple[DayRecord, ...]:
    """The days of practice between two dates, both included: calendar and minutes a day."""
    found = db.execute(
        f"SELECT day, {_COUNTS} FROM days WHERE day BETWEEN ? AND ? ORDER BY day",  # noqa: S608 - own names
        (first.toordinal(), last.toordinal()),
    )
    return tuple(understood(_day_record, found))


def practised_days(db: sqlite3.Connection) -> tuple[int, ...]:
    """Every day with a pass, as `date.toordinal`, oldest first: what a streak is counted on."""
    found = db.execute("SELECT day FROM days WHERE passes > 0 ORDER BY day")
    return tuple(understood(lambda row: date.fromordinal(row[0]).toordinal(), found))


def line_days(db: sqlite3.Connection, line: Line) -> tuple[LineDay, ...]:
    """The line's days, oldest first: best clean tempo, clean share and measured figures over time."""
    found = db.execute(
        f"SELECT day, {_COUNTS}, best_bpm, first_outcome, {_MEANS} FROM line_days WHERE line = ? ORDER BY day",  # noqa: S608
        (line_id(db, line),),
    )
    return tuple(understood(_line_day, found))


def line_tempos(db: sqlite3.Connection, line: Line) -> tuple[LineTempo, ...]:
    """The line's tempos, slowest first: clean share and measured figures against tempo."""
    found = db.execute(
        f"SELECT tempo, {_COUNTS}, {_MEANS} FROM line_tempos WHERE line = ? ORDER BY tempo",  # noqa: S608 - own names
        (line_id(db, line),),
    )
    return tuple(LineTempo._make(row) for row in found)


def line_bars(db: sqlite3.Connection, line: Line) -> tuple[BarRecord, ...]:
    """What is known of the line's bars."""
    found = db.execute(
        "SELECT bar, passes, missed, blamed FROM line_bars WHERE line = ? ORDER BY bar", (line_id(db, line),)
    )
    return tuple(BarRecord._make(row) for row in found)


def versions(db: sqlite3.Connection, line: Line) -> tuple[Version, ...]:
    """The contents that the riff had, the last played one last: more than one says that it was changed."""
    found = db.execute(
        f"SELECT digest, {_COUNTS}, best_bpm, first_ms, last_ms FROM line_versions WHERE line = ? ORDER BY last_ms",  # noqa: S608
        (line_id(db, line),),
    )
    return tuple(Version._make(row) for row in found)


def totals(db: sqlite3.Connection) -> DayRecord:
    """All days together; `day` is the last one (or the first of all days when nothing was practised)."""
    day, passes, clean, missed, seconds = db.execute(
        "SELECT coalesce(max(day), 1), total(passes), total(clean), total(missed), total(seconds) FROM days "
        "WHERE day BETWEEN 1 AND ?",
        (date.max.toordinal(),),
    ).fetchone()
    return DayRecord(date.fromordinal(day), int(passes), int(clean), int(missed), _finite(seconds))


def ladder(db: sqlite3.Connection, line: Line) -> dict[str, Any] | None:
    """Where the player stood on the line's ladder (`Ladder.from_dict`); None when never, or not to be read."""
    return position_of(db.execute("SELECT position FROM ladders WHERE line = ?", (line_id(db, line),)).fetchone())


def position_of(found: tuple[str] | None) -> dict[str, Any] | None:
    """A ladder's position in a row of the log; None where there is none that can be read."""
    try:
        return None if found is None else read_json(dict[str, Any], found[0])
    except (NotUnderstoodError, TypeError):
        return None


SELECT_PASSES = (
    "SELECT uuid, at_ms, day, name, riff, part, passes.digest, first_bar, last_bar, whole, tempo_bpm, passes.seconds, "
    "verdict, way FROM passes JOIN lines ON lines.id = passes.line JOIN exercises ON exercises.id = lines.exercise "
)


def read_pass(row: tuple[Any, ...]) -> Pass:
    """The pass of one row of `SELECT_PASSES`."""
    uuid, at_ms, day, exercise, riff, part, digest, first, last, whole, tempo, seconds, verdict, way = row
    return Pass(
        uuid.hex(),
        FIRST + timedelta(milliseconds=at_ms),
        date.fromordinal(day),
        Line(exercise, riff, part),
        digest,
        first,
        last,
        bool(whole),
        tempo,
        seconds,
        read_json(Verdict, verdict),
        way,
    )


def _exercise_record(row: tuple[Any, ...]) -> ExerciseRecord:
    record = ExerciseRecord._make(row)
    if record.due_day is not None:
        date.fromordinal(record.due_day)
    return record._replace(seconds=_finite(record.seconds), last_ms=_moment(record.last_ms))


def _line_record(row: tuple[Any, ...]) -> LineRecord:
    *names, reviewed, due = row
    days = (None if day is None else date.fromordinal(day) for day in (reviewed, due))
    record = LineRecord(Line(*names[:3]), *names[3:], *days)
    return record._replace(
        seconds=_finite(record.seconds), best_ms=_moment(record.best_ms), last_ms=_moment(record.last_ms)
    )


def _day_record(row: tuple[Any, ...]) -> DayRecord:
    day, passes, clean, missed, seconds = row
    return DayRecord(date.fromordinal(day), passes, clean, missed, _finite(seconds))


def _line_day(row: tuple[Any, ...]) -> LineDay:
    day, *values = row
    found = LineDay(date.fromordinal(day), *values)
    return found._replace(seconds=_finite(found.seconds))


def _moment(at_ms: int) -> int:
    """A moment that a calendar has."""
    return min(max(at_ms, 0), MOST_MS)


def _finite(seconds: float) -> float:
    """A time that was practised, at most a million hours."""
    return min(max(seconds, 0.0), 3.6e9)
