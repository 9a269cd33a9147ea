"""What the logbook asks for in the background: exercises, records, the chosen line, the goals."""

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message
from textual.worker import get_current_worker

from trainer.music.exercise import Exercise
from trainer.music.problem import ProblemsError
from trainer.notation.head import Head
from trainer.practice import reading
from trainer.practice.days import practice_day
from trainer.practice.line import Line
from trainer.practice.reading import ExerciseRecord
from trainer.screens.drawing.goal_rows import KnownGoal
from trainer.screens.drawing.ink import Row
from trainer.screens.drawing.logbook_rows import Item
from trainer.screens.logbook_actions import LogbookActions
from trainer.screens.logbook_facts import LineFacts, RecordFacts, line_facts, record_facts
from trainer.screens.logbook_list import LogList, exercise_items, line_items
from trainer.screens.widgets.row_list import RowList
from trainer.screens.wiring import Wiring

WANTED = "logbook exercise"
"""Where the memory keeps the exercise to open at."""


class AsksRecord(LogbookActions):
    """The logbook's screen, asking."""

    if TYPE_CHECKING:

        @property
        def item(self) -> Item | None: ...  # noqa: D102 - the screen's
        def show_view(self) -> None: ...  # noqa: D102 - the screen's
        def _draw_item(self) -> Callable[[int, bool, int], Row]: ...
        def _draw_goal(self) -> Callable[[int, bool, int], Row]: ...

    class Listed(Message):
        """Exercises, records and totals were asked for in the background."""

        def __init__(self, heads: tuple[Head, ...], records: dict[str, ExerciseRecord], facts: RecordFacts) -> None:
            super().__init__()
            self.heads, self.records, self.facts = heads, records, facts

    class Known(Message):
        """What the log says of a line."""

        def __init__(self, facts: LineFacts) -> None:
            super().__init__()
            self.facts = facts

    class ExerciseRead(Message):
        """An exercise's file was read: now its other riffs and its riffs' targets are known."""

        def __init__(self, name: str, exercise: Exercise | None) -> None:
            super().__init__()
            self.name, self.exercise = name, exercise

    class GoalsKnown(Message):
        """The goals, with the forecasts that are made so far."""

        def __init__(self, goals: tuple[KnownGoal, ...]) -> None:
            super().__init__()
            self.goals = goals

    def __init__(self, wiring: Wiring) -> None:
        super().__init__()
        self.wiring = wiring
        self.list = LogList()
        self.facts: LineFacts | None = None
        """Of the chosen line."""
        self.record: RecordFacts | None = None
        self.goals: tuple[KnownGoal, ...] = ()
        self._heads: dict[str, Head] = {}
        self._read: dict[str, Exercise | None] = {}
        self._line: Line | None = None

    @property
    def today(self) -> date:
        """The day of practice it is."""
        return practice_day(self.wiring.now())

    @work(thread=True, exclusive=True, group="asking")
    def ask(self) -> None:
        """Ask for everything there is, without holding up the screen."""
        log = self.wiring.log
        records, facts = log.ask(reading.exercises), record_facts(log, self.today)
        heads = tuple(self.wiring.exercises.heads())
        if not get_current_worker().is_cancelled:
            self.post_message(self.Listed(heads, records, facts))

    def on_asks_record_listed(self, message: Listed) -> None:
        """Show it, with the cursor where it was or where it is wanted."""
        self.record = message.facts
        self._heads = {head.id: head for head in reversed(message.heads)}
        asked = str(self.wiring.memory.get(WANTED) or "")
        if asked:
            self.wiring.memory.put(WANTED, "")
        item = self.item
        wanted = asked or (item.exercise if item else "")
        line = item.line.line if item and item.line and item.exercise == wanted else None
        self.list = LogList(exercise_items(message.heads, message.records))
        if self.list.exercises:
            self.open(max(0, self.list.number_of(wanted)), line)
        else:
            self.show_view()
        self.ask_goals()

    def open(self, number: int, line: Line | None = None) -> None:
        """Show the lines of another exercise, with the cursor on it or on one of them."""
        item = self.list.exercises[number]
        records = self.wiring.log.ask(reading.lines, item.exercise)
        lines = line_items(item, records, self._read.get(item.exercise))
        self.list = self.list.open(number, lines)
        at = next((n for n, each in enumerate(lines, 1) if line and each.line and each.line.line == line), 0)
        self.query_one("#list", RowList).set_rows(len(self.list), self._draw_item(), number + at)
        self.choose_line()

    def choose_line(self) -> None:
        """Ask for the line under the cursor; on an exercise, for its line that was played last."""
        item = self.item
        if item is None:
            return
        line = item.line
        if line is None:
            played = [each.line for each in self.list.lines if each.line is not None]
            line = max(played, key=lambda each: each.last_ms, default=None)
        self._line = line.line if line else None
        if self._line is None:
            self.facts = None
        self.show_view()
        self.ask_line(item.exercise, self._line, item.exercise not in self._read)

    @work(thread=True, exclusive=True, group="line")
    def ask_line(self, name: str, line: Line | None, read: bool) -> None:
        """Ask for a line, and read its exercise if that was not done yet."""
        worker = get_current_worker()
        head, exercise = self._heads.get(name), self._read.get(name)
        if line is not None:
            riff = exercise.riff(line.riff) if exercise else None
            target = float(riff.tempo.target) if riff else head.target_bpm if head else 0.0
            facts = line_facts(self.wiring.log, line, target, self.today)
            if worker.is_cancelled:
                return
            self.post_message(self.Known(facts))
        if read and not worker.is_cancelled:
            try:
                found = self.wiring.exercises.read(self.wiring.exercises.find(name))
            except ProblemsError:
                found = None
            self.post_message(self.ExerciseRead(name, found))

    def on_asks_record_known(self, message: Known) -> None:
        """Show the line."""
        if message.facts.line == self._line:
            self.facts = message.facts
            self.show_view()

    def on_asks_record_exercise_read(self, message: ExerciseRead) -> None:
        """List its other riffs, and take its riffs' targets."""
        self._read[message.name] = message.exercise
        item = self.item
        if message.exercise is None or item is None or item.exercise != message.name:
            return
        self.open(self.list.opened, item.line.line if item.line else None)

    @work(thread=True, exclusive=True, group="goals")
    def ask_goals(self) -> None:
        """Ask for the goals: at once without forecasts, then with one after the other."""
        worker = get_current_worker()
        for known in self.forecast_goals():
            if worker.is_cancelled:
                return
            self.post_message(self.GoalsKnown(known))

    def title_of(self, exercise: str) -> str:
        """An exercise's title, or its id where it has no file."""
        head = self._heads.get(exercise)
        return head.title if head else exercise

    def on_asks_record_goals_known(self, message: GoalsKnown) -> None:
        """Show them."""
        self.goals = message.goals
        rows = self.query_one("#goals", RowList)
        rows.set_rows(len(self.goals), self._draw_goal(), max(0, rows.cursor))
        self.show_view()
