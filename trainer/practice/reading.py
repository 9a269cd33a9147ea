"""What the screens ask the log, each answered within 50 ms from a million passes: `log.ask(reading.lines, "iron")`."""

import json
import sqlite3
from datetime import UTC, date, datetime, timedelta
from typing import Any, NamedTuple

from trainer.practice.line import Line
from trainer.practice.passes import Pass
from trainer.practice.recording import line_id
from trainer.practice.schema import FIGURES
from trainer.practice.verdict import Verdict


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
_MEANS = ", ".join(f"{figure}_sum / nullif({figure}_n, 0)" for figure in FIGURES)


def exercises(db: sqlite3.Connection) -> dict[str, ExerciseRecord]:
    """Every exercise that was practised, by its id."""
    found = db.execute(f"SELECT name, {_COUNTS}, best_bpm, last_ms, due_day FROM exercises WHERE passes > 0")  # noqa: S608
    return {row[0]: ExerciseRecord._make(row) for row in found}


def lines(db: sqlite3.Connection, exercise: str) -> tuple[LineRecord, ...]:
    """The lines of one exercise, in the order in which they were first practised."""
    found = db.execute(_LINE + "WHERE name = ? ORDER BY lines.id", (exercise,))
    return tuple(_line_record(row) for row in found)


def line(db: sqlite3.Connection, line: Line) -> LineRecord | None:
    """What is known of one line; None when it was never practised."""
    found = db.execute(_LINE + "WHERE name = ? AND riff = ? AND part = ?", line).fetchone()
    return None if found is None else _line_record(found)


def due_lines(db: sqlite3.Connection, day: date, most: int = 500) -> tuple[LineRecord, ...]:
    """The lines that are due on `day`, the longest due first, at most so many."""
    found = db.execute(
        _LINE + "WHERE lines.due_day <= ? ORDER BY lines.due_day, lines.id LIMIT ?", (day.toordinal(), most)
    )
    return tuple(_line_record(row) for row in found)


def days(db: sqlite3.Connection, first: date, last: date) -> tuple[DayRecord, ...]:
    """The days of practice between two dates, both included: calendar and minutes a day."""
    found = db.execute(
        f"SELECT day, {_COUNTS} FROM days WHERE day BETWEEN ? AND ? ORDER BY day",  # noqa: S608 - own names
        (first.toordinal(), last.toordinal()),
    )
    return tuple(DayRecord(date.fromordinal(day), *counts) for day, *counts in found)


def practised_days(db: sqlite3.Connection) -> tuple[int, ...]:
    """Every day with a pass, as `date.toordinal`, oldest first: what a streak is counted on."""
    return tuple(day for (day,) in db.execute("SELECT day FROM days WHERE passes > 0 ORDER BY day"))


def line_days(db: sqlite3.Connection, line: Line) -> tuple[LineDay, ...]:
    """The line's days, oldest first: best clean tempo, clean share and measured figures over time."""
    found = db.execute(
        f"SELECT day, {_COUNTS}, best_bpm, first_outcome, {_MEANS} FROM line_days WHERE line = ? ORDER BY day",  # noqa: S608
        (line_id(db, line),),
    )
    return tuple(LineDay(date.fromordinal(day), *values) for day, *values in found)


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


def has_changed(db: sqlite3.Connection, line: Line, digest: str) -> bool:
    """Whether the riff has another content now than when the line was last played."""
    known = db.execute("SELECT digest FROM lines WHERE id = ?", (line_id(db, line),)).fetchone()
    return known is not None and known[0] not in {"", digest}


def last_passes(db: sqlite3.Connection, line: Line, most: int = 100) -> tuple[Pass, ...]:
    """The line's last passes, the newest first."""
    found = db.execute(
        SELECT_PASSES + "WHERE passes.line = ? ORDER BY day DESC, at_ms DESC LIMIT ?", (line_id(db, line), most)
    )
    return tuple(read_pass(row) for row in found)


def newest_passes(db: sqlite3.Connection, most: int = 100) -> tuple[Pass, ...]:
    """The passes logged last, whatever the line, the newest first."""
    return tuple(read_pass(row) for row in db.execute(SELECT_PASSES + "ORDER BY passes.id DESC LIMIT ?", (most,)))


def totals(db: sqlite3.Connection) -> DayRecord:
    """All days together; `day` is the last one (or the first of all days when nothing was practised)."""
    day, passes, clean, missed, seconds = db.execute(
        "SELECT coalesce(max(day), 1), total(passes), total(clean), total(missed), total(seconds) FROM days"
    ).fetchone()
    return DayRecord(date.fromordinal(day), int(passes), int(clean), int(missed), seconds)


def ladder(db: sqlite3.Connection, line: Line) -> dict[str, Any] | None:
    """Where the player stood on the line's ladder (`Ladder.from_dict`); None when never."""
    found = db.execute("SELECT position FROM ladders WHERE line = ?", (line_id(db, line),)).fetchone()
    return None if found is None else json.loads(found[0])


SELECT_PASSES = (
    "SELECT uuid, at_ms, day, name, riff, part, passes.digest, first_bar, last_bar, whole, tempo_bpm, passes.seconds, "
    "verdict, way FROM passes JOIN lines ON lines.id = passes.line JOIN exercises ON exercises.id = lines.exercise "
)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def read_pass(row: tuple[Any, ...]) -> Pass:
    """The pass of one row of `SELECT_PASSES`."""
    uuid, at_ms, day, exercise, riff, part, digest, first, last, whole, tempo, seconds, verdict, way = row
    return Pass(
        uuid.hex(),
        _EPOCH + timedelta(milliseconds=at_ms),
        date.fromordinal(day),
        Line(exercise, riff, part),
        digest,
        first,
        last,
        bool(whole),
        tempo,
        seconds,
        Verdict.from_dict(json.loads(verdict)),
        way,
    )


def _line_record(row: tuple[Any, ...]) -> LineRecord:
    *names, reviewed, due = row
    return LineRecord(
        Line(*names[:3]), *names[3:], *(None if day is None else date.fromordinal(day) for day in (reviewed, due))
    )
