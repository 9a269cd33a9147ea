"""What the logbook tells of one line: everything the log says of it, and what follows from that. Asked in a thread."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from random import Random

from trainer.practice import reading
from trainer.practice.forecast import Forecast, forecast
from trainer.practice.goals import Goal, GoalState, goals
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.plan import hardest_bar
from trainer.practice.progress import Stall, Streak, best_over_time, stall, sticking_tempo, streak
from trainer.practice.reading import BarRecord, DayRecord, LineDay, LineRecord, LineTempo, Version
from trainer.screens.drawing.goal_rows import KnownGoal
from trainer.screens.drawing.plot import Curve, Reach


@dataclass(frozen=True, slots=True)
class LineFacts:
    """One line's record."""

    line: Line
    record: LineRecord | None = None
    days: tuple[LineDay, ...] = ()
    tempos: tuple[LineTempo, ...] = ()
    bars: tuple[BarRecord, ...] = ()
    versions: tuple[Version, ...] = ()
    target_bpm: float = 0.0
    """The nearest kept goal's, else the riff's; 0 where neither is known."""
    from_goal: bool = False
    """Whether the target is a goal's."""
    outlook: Forecast | None = None
    """When the target will be reached; None where there is none, or no clean day yet."""

    @property
    def stall(self) -> Stall | None:
        """Where it stalls."""
        return stall(self.days, self.target_bpm or 1000)

    @property
    def sticking(self) -> int | None:
        """The tempo it sticks at."""
        return sticking_tempo(self.tempos)

    @property
    def hard_bar(self) -> int | None:
        """The bar that stumbles most."""
        return hardest_bar(self.bars)

    @property
    def curve(self) -> Curve:
        """The best clean tempo over time, against the target."""
        best = best_over_time(self.days)
        return Curve(
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
    """What the logbook tells of everything."""

    totals: DayRecord
    streak: Streak
    days: dict[date, DayRecord] = field(default_factory=dict)
    """Every day of practice."""


def line_facts(log: Log, line: Line, riff_target_bpm: float, today: date) -> LineFacts:
    """Ask for one line.

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
    """Ask for everything."""
    found = log.ask(reading.days, date.fromordinal(1), today)
    return RecordFacts(
        log.ask(reading.totals), streak(log.ask(reading.practised_days), today), {day.day: day for day in found}
    )


def known_goal(log: Log, goal: Goal, title: str, today: date) -> KnownGoal:
    """A goal with its forecast."""
    if goal.state is not GoalState.KEPT:
        return KnownGoal(goal, title)
    days = log.ask(reading.line_days, goal.line)
    return KnownGoal(goal, title, _outlook(days, goal.target_bpm, today, goal.by))


def _outlook(days: Sequence[LineDay], target_bpm: float, today: date, by: date | None = None) -> Forecast:
    return forecast(days, target_bpm, today, Random(1), by)  # noqa: S311 - the same record gives the same forecast
