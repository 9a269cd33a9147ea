"""What the logbook asks for in the background: exercises and records, the chosen line, the goals; and the export."""

from collections.abc import Iterator, Mapping
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual.message import Message
from textual.worker import get_current_worker

from trainer.music.exercise import Exercise
from trainer.music.problem import ProblemsError
from trainer.notation.head import Head
from trainer.practice import reading
from trainer.practice.days import practice_day
from trainer.practice.export import export_file
from trainer.practice.goals import GoalState, goals
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.reading import ExerciseRecord
from trainer.screens.logbook_record import KnownGoal, LineFacts, RecordFacts, known_goal, line_facts, record_facts
from trainer.screens.messages import Tell
from trainer.session.machine import Machine

if TYPE_CHECKING:
    from textual.screen import Screen

STATES = (GoalState.KEPT, GoalState.REACHED, GoalState.GIVEN_UP)
"""The order in which goals are listed."""


class LogbookReader:
    """Reads for the logbook's screen, in threads, and sends it what was found as messages."""

    class RecordRead(Message):
        """Exercises, their records and the totals were read."""

        def __init__(self, heads: tuple[Head, ...], records: dict[str, ExerciseRecord], facts: RecordFacts) -> None:
            super().__init__()
            self.heads, self.records, self.facts = heads, records, facts

    class LineKnown(Message):
        """What the log says about a line."""

        def __init__(self, facts: LineFacts) -> None:
            super().__init__()
            self.facts = facts

    class ExerciseRead(Message):
        """An exercise's file was read, so its other riffs and its riffs' targets are known; None if it is broken."""

        def __init__(self, name: str, exercise: Exercise | None) -> None:
            super().__init__()
            self.name, self.exercise = name, exercise

    class GoalsKnown(Message):
        """The goals, with the forecasts made so far."""

        def __init__(self, goals: tuple[KnownGoal, ...]) -> None:
            super().__init__()
            self.goals = goals

    def __init__(self, screen: "Screen[None]", machine: Machine) -> None:
        """Read nothing yet.

        Args:
            screen: runs the threads and gets the messages.
            machine: what the screens work with.
        """
        self._screen, self._machine = screen, machine

    @property
    def today(self) -> date:
        """The day of practice."""
        return practice_day(self._machine.now())

    def read_record(self) -> None:
        """Read the exercises, their records and the totals."""
        self._screen.run_worker(self._read_record, thread=True, exclusive=True, group="record")

    def read_line(self, exercise: str, line: Line | None, target_bpm: float, *, whole: bool) -> None:
        """Read what the log says about a line, and the exercise's file.

        Args:
            exercise: the exercise's id.
            line: the line; None for none.
            target_bpm: the line's target; 0 where it is not known.
            whole: whether to read the exercise's file as well.
        """
        job = partial(self._read_line, exercise, line, target_bpm, whole)
        self._screen.run_worker(job, thread=True, exclusive=True, group="line")

    def read_goals(self, titles: Mapping[str, str]) -> None:
        """Read the goals: at once without forecasts, then with one after the other.

        Args:
            titles: of the exercises, by id.
        """
        self._screen.run_worker(partial(self._read_goals, titles), thread=True, exclusive=True, group="goals")

    def export(self, path: Path) -> None:
        """Write the whole record to a file, and say what became of it."""
        self._screen.run_worker(partial(self._export, path), thread=True, group="export")

    def _read_record(self) -> None:
        log = self._machine.log
        records, facts = log.ask(reading.exercises), record_facts(log, self.today)
        heads = tuple(self._machine.exercises.heads())
        if not get_current_worker().is_cancelled:
            self._screen.post_message(self.RecordRead(heads, records, facts))

    def _read_line(self, name: str, line: Line | None, target_bpm: float, whole: bool) -> None:
        worker, exercises = get_current_worker(), self._machine.exercises
        if line is not None:
            facts = line_facts(self._machine.log, line, target_bpm, self.today)
            if worker.is_cancelled:
                return
            self._screen.post_message(self.LineKnown(facts))
        if whole and not worker.is_cancelled:
            try:
                found = exercises.read(exercises.find(name))
            except ProblemsError:
                found = None
            self._screen.post_message(self.ExerciseRead(name, found))

    def _read_goals(self, titles: Mapping[str, str]) -> None:
        worker = get_current_worker()
        for known in self._forecasts(titles):
            if worker.is_cancelled:
                return
            self._screen.post_message(self.GoalsKnown(known))

    def _forecasts(self, titles: Mapping[str, str]) -> Iterator[tuple[KnownGoal, ...]]:
        """The goals without forecasts, then with ever more of them."""
        log = self._machine.log
        found = sorted(log.ask(goals), key=lambda goal: STATES.index(goal.state))
        known = [KnownGoal(goal, titles.get(goal.line.exercise, goal.line.exercise)) for goal in found]
        yield tuple(known)
        for number, each in enumerate(known):
            if each.goal.state is GoalState.KEPT:
                known[number] = known_goal(log, each.goal, each.title, self.today)
                if number % 10 == 9:
                    yield tuple(known)
        yield tuple(known)

    def _export(self, path: Path) -> None:
        log = self._machine.log
        aside = log
        try:
            if log.path is not None and log.kept:  # a connection of its own, so that no pass has to wait
                aside = Log.open(log.path, now=self._machine.now)
            aside.ask(export_file, path)
        except ProblemsError as error:
            self._screen.post_message(Tell(str(error.problems[0]), grave=True))
        else:
            self._screen.post_message(Tell(f"{path}: the whole record."))
        finally:
            if aside is not log:
                aside.close()
