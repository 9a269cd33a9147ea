"""What the logbook shows: its list of exercises and lines, and what the log says about a line, a goal and in all.

The log is asked in threads; everything else here is pure.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from random import Random

from trainer.music.exercise import Exercise
from trainer.notation.head import Head
from trainer.notation.titles import folded
from trainer.practice import reading
from trainer.practice.forecast import Forecast, forecast
from trainer.practice.goals import Goal, GoalState, goals
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.plan import guitar_parts, hardest_bar
from trainer.practice.progress import Stall, Streak, best_over_time, stall, sticking_tempo, streak
from trainer.practice.reading import BarRecord, DayRecord, ExerciseRecord, LineDay, LineRecord, LineTempo, Version
from trainer.screens.drawing.plot import PlotData, Reach

# -- the list ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Item:
    """A row of the list: an exercise, or one of the lines of the open exercise."""

    exercise: str
    title: str
    record: ExerciseRecord | None = None
    line: LineRecord | None = None


@dataclass(frozen=True, slots=True)
class LogList:
    """The rows of the list by index, without copying ten thousand of them at every step of the cursor."""

    exercises: tuple[Item, ...] = ()
    opened: int = -1
    """The index among the exercises of the one whose lines are shown; -1 for none."""
    lines: tuple[Item, ...] = ()

    def __len__(self) -> int:
        """Rows."""
        return len(self.exercises) + len(self.lines)

    def __getitem__(self, index: int) -> Item:
        """The row at an index."""
        if index <= self.opened:
            return self.exercises[index]
        if index <= self.opened + len(self.lines):
            return self.lines[index - self.opened - 1]
        return self.exercises[index - len(self.lines)]

    def exercise_at(self, index: int) -> int:
        """The number of the exercise that the row at an index is, or belongs to."""
        if index <= self.opened:
            return index
        return max(self.opened, index - len(self.lines))

    def open(self, number: int, lines: Iterable[Item]) -> "LogList":
        """The list with another exercise opened."""
        return replace(self, opened=number, lines=tuple(lines))

    def number_of(self, exercise: str) -> int:
        """The number of an exercise by id; -1 where it is not listed."""
        return next((number for number, item in enumerate(self.exercises) if item.exercise == exercise), -1)

    def found(self, words: str, after: int) -> int:
        """The number of the next exercise, after one, with all the words in its title or id; -1 for none."""
        wanted = folded(words).split()
        count = len(self.exercises)
        for step in range(1, count + 1):
            item = self.exercises[(after + step) % count]
            text = folded(f"{item.title} {item.exercise}")
            if wanted and all(word in text for word in wanted):
                return (after + step) % count
        return -1


def exercise_items(heads: Iterable[Head], records: Mapping[str, ExerciseRecord]) -> tuple[Item, ...]:
    """List all exercises: those practised, last one first, then the others by title."""
    titles: dict[str, str] = {}
    for head in heads:
        if not head.problem:
            titles.setdefault(head.id, head.title)
    played = sorted(records.values(), key=lambda record: -record.last_ms)
    fresh = sorted((title, name) for name, title in titles.items() if name not in records)
    return (
        *(Item(record.exercise, titles.get(record.exercise, record.exercise), record) for record in played),
        *(Item(name, title) for title, name in fresh),
    )


def line_items(item: Item, records: Sequence[LineRecord], exercise: Exercise | None) -> tuple[Item, ...]:
    """List the lines of an exercise: those on record, then the others in its file."""
    lines = [Item(item.exercise, item.title, item.record, record) for record in records]
    known = {record.line for record in records}
    for riff in exercise.riffs if exercise else ():
        for part in guitar_parts(riff):
            line = Line(item.exercise, riff.name, part)
            if line not in known:
                lines.append(Item(item.exercise, item.title, item.record, unplayed(line)))
    return tuple(lines)


def unplayed(line: Line) -> LineRecord:
    """An empty record, for a line that was never played."""
    return LineRecord(line, "", 0, 0, 0, 0.0, 0.0, 0, 0, None, None)


# -- what the log says ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KnownGoal:
    """A goal with its exercise's title and its forecast."""

    goal: Goal
    title: str
    """The exercise's title; its id where it has no file."""
    forecast: Forecast | None = None
    """None for a goal that is no longer kept, or not computed yet."""


@dataclass(frozen=True, slots=True)
class LineFacts:
    """What the log says about one line."""

    line: Line
    record: LineRecord | None = None
    days: tuple[LineDay, ...] = ()
    tempos: tuple[LineTempo, ...] = ()
    bars: tuple[BarRecord, ...] = ()
    versions: tuple[Version, ...] = ()
    target_bpm: float = 0.0
    """The nearest kept goal's target, else the riff's; 0 if neither is known."""
    from_goal: bool = False
    """Whether the target is a goal's."""
    outlook: Forecast | None = None
    """When the target will be reached; None without a target or a clean day."""

    @property
    def stall(self) -> Stall | None:
        """Where progress stalls; None if it does not."""
        return stall(self.days, self.target_bpm or 1000)

    @property
    def sticking(self) -> int | None:
        """The tempo at which it sticks, in bpm; None for none."""
        return sticking_tempo(self.tempos)

    @property
    def hard_bar(self) -> int | None:
        """The bar that is missed most, counted from 1; None for none."""
        return hardest_bar(self.bars)

    @property
    def curve(self) -> PlotData:
        """The best clean tempo over time, against the target, to plot."""
        best = best_over_time(self.days)
        return PlotData(
            tuple((day, bpm) for day, bpm, _ in best),
            tuple((day, so_far) for day, _, so_far in best),
            self.target_bpm,
            reach=self._reach,
        )

    @property
    def _reach(self) -> Reach | None:
        seen = self.outlook
        if seen is None or seen.early is None or seen.likely is None:
            return None
        return Reach(seen.early, seen.likely, seen.late or date.max)


@dataclass(frozen=True, slots=True)
class RecordFacts:
    """What the log says in all."""

    totals: DayRecord
    streak: Streak
    days: dict[date, DayRecord] = field(default_factory=dict)
    """Every day of practice."""


def line_facts(log: Log, line: Line, riff_target_bpm: float, today: date) -> LineFacts:
    """Ask the log about one line.

    Args:
        log: the log.
        line: which.
        riff_target_bpm: the target in the exercise's file; 0 where it is not known.
        today: the day of practice it is.
    """
    kept = [goal for goal in log.ask(goals, line.exercise, GoalState.KEPT) if goal.line == line]
    nearest = min((goal.target_bpm for goal in kept), default=0.0)
    days, target = log.ask(reading.line_days, line), nearest or riff_target_bpm
    seen = any(day.best_bpm for day in days) and target > 0
    return LineFacts(
        line,
        log.ask(reading.line, line),
        days,
        log.ask(reading.line_tempos, line),
        log.ask(reading.line_bars, line),
        log.ask(reading.versions, line),
        target,
        bool(nearest),
        _outlook(days, target, today) if seen else None,
    )


def record_facts(log: Log, today: date) -> RecordFacts:
    """Ask the log for the totals, the streak and every day."""
    found = log.ask(reading.days, date.fromordinal(1), today)
    return RecordFacts(
        log.ask(reading.totals), streak(log.ask(reading.practised_days), today), {day.day: day for day in found}
    )


def known_goal(log: Log, goal: Goal, title: str, today: date) -> KnownGoal:
    """Compute a goal's forecast."""
    if goal.state is not GoalState.KEPT:
        return KnownGoal(goal, title)
    days = log.ask(reading.line_days, goal.line)
    return KnownGoal(goal, title, _outlook(days, goal.target_bpm, today, goal.by))


def _outlook(days: Sequence[LineDay], target_bpm: float, today: date, by: date | None = None) -> Forecast:
    return forecast(days, target_bpm, today, Random(1), by)  # noqa: S311 - the same record gives the same forecast
