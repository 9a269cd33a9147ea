"""The logbook: what was practised, how fast it became, when the goals will be reached; goals are set here too."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from uuid import uuid4

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.screen import Screen

from trainer.music.exercise import Exercise
from trainer.notation.head import Head
from trainer.practice import reading
from trainer.practice.days import practice_day
from trainer.practice.goals import Goal, GoalState, change_goal, put_goal
from trainer.practice.line import Line
from trainer.screens.actions import actions_for, bindings_for, hinted, key_name
from trainer.screens.asking import AskLine, Choose
from trainer.screens.drawing.day_words import days_words, passes_words
from trainer.screens.drawing.ink import CellRow, Panel
from trainer.screens.drawing.logbook_rows import (
    FIGURES,
    GOAL_COLUMNS,
    VIEWS,
    aside_view,
    days_view,
    forecast_rows,
    goal_row,
    item_row,
    progress_view,
    takes_view,
    text_rows,
    view_line,
)
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.tables import heading_row, place
from trainer.screens.logbook_reading import LogbookReader
from trainer.screens.logbook_record import Item, KnownGoal, LineFacts, LogList, RecordFacts, exercise_items, line_items
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.typed import record_file, trouble, typed_goal
from trainer.screens.widgets.page_lines import HintsView, PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import DrawnPanel
from trainer.session.machine import Machine
from trainer.session.memory import LOGBOOK_EXERCISE

MEDIUM, WIDE = 110, 160
"""Cells of a window from which on the list is wider, and from which on calendar and goals are shown beside."""
NOT_THERE = {"goals": ("find",), "": ("reached", "give_up", "take_up")}
"""For each view the hints that would do nothing there."""


class LogbookScreen(Screen[None]):
    """The record of practice."""

    BINDINGS = bindings_for("logbook")
    CSS_PATH = "record.tcss"
    page = "logbook"

    def __init__(self, machine: Machine, pen: Pen) -> None:
        """Know nothing yet; the log is asked when the screen is shown.

        Args:
            machine: what the screens work with.
            pen: the characters to draw with.
        """
        super().__init__()
        self.machine, self.pen = machine, pen
        self._reader = LogbookReader(self, machine)
        self.view = VIEWS[0]
        self.day = self.today
        """The chosen day of the calendar."""
        self.figure = 0
        """The number of the figure that is plotted of the takes."""
        self.list = LogList()
        self.facts: LineFacts | None = None
        """What the log says about the chosen line; None until it was asked."""
        self.record: RecordFacts | None = None
        self.goals: tuple[KnownGoal, ...] = ()
        self._heads: dict[str, Head] = {}
        self._read: dict[str, Exercise | None] = {}
        self._line: Line | None = None

    @property
    def today(self) -> date:
        """The day of practice."""
        return practice_day(self.machine.now())

    # -- composing ----------------------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        """The views by name; the list and, beside it, one view; in wide windows everything else beside that."""
        yield PageTop("logbook", self.pen, id="title")
        yield HintsView(self.page, self.pen, id="hints")
        yield DrawnPanel(id="views")
        with Horizontal(id="between"):
            yield RowList(id="list")
            with Vertical(id="main"):
                yield DrawnPanel(id="headings")
                yield RowList(id="goals")
                yield DrawnPanel(id="content")
            yield DrawnPanel(id="aside")

    def on_mount(self) -> None:
        """Draw the screen, still without a record."""
        keys = [key_name(each.keys[0]) for each in actions_for(self.page) if each.name in VIEWS]
        self.query_one("#views", DrawnPanel).set_source(lambda width, _: view_line(self.view, keys, width))
        self.query_one("#headings", DrawnPanel).set_source(
            lambda width, _: Panel((heading_row(place(GOAL_COLUMNS, width), width),), ())
        )
        self.query_one("#content", DrawnPanel).set_source(self._draw_content)
        self.query_one("#aside", DrawnPanel).set_source(self._draw_aside)
        self.show_view()

    def on_screen_resume(self) -> None:
        """Read again: something may have been practised."""
        self._reader.read_record()

    def on_resize(self) -> None:
        """Show as many columns as the window has room for."""
        self.set_class(self.size.width >= MEDIUM, "medium")
        self.set_class(self.size.width >= WIDE, "wide")

    # -- showing ------------------------------------------------------------------------------------------------

    @property
    def item(self) -> Item | None:
        """The row under the cursor."""
        at = self.query_one("#list", RowList).cursor
        return self.list[at] if 0 <= at < len(self.list) else None

    @property
    def chosen_goal(self) -> KnownGoal | None:
        """The goal under the cursor."""
        at = self.query_one("#goals", RowList).cursor
        return self.goals[at] if self.view == "goals" and 0 <= at < len(self.goals) else None

    def show_view(self) -> None:
        """Draw the view that is chosen."""
        for name in VIEWS:
            self.set_class(name == self.view, f"shows-{name}")
        left_out = NOT_THERE.get(self.view, NOT_THERE[""])
        hints = [each for each in hinted(self.page) if each.name not in left_out]
        self.query_one(HintsView).set_actions(hints)
        for panel in ("#views", "#headings", "#content", "#aside"):
            self.query_one(panel, DrawnPanel).redraw()
        self.query_one(PageTop).say(self._summary())

    def _summary(self) -> str:
        record = self.record
        if record is None:
            return "asking the log ..."
        if not self.machine.log.kept:
            return "kept in memory only: it cannot be written"
        return f"{passes_words(record.totals.passes)}, {days_words(record.streak.now)} in a row"

    def _draw_item(self) -> Callable[[int, bool, int], CellRow]:
        shown, today, pen = self.list, self.today, self.pen
        return lambda index, chosen, width: item_row(shown[index], today, width=width, pen=pen, chosen=chosen)

    def _draw_goal(self) -> Callable[[int, bool, int], CellRow]:
        goals, pen = self.goals, self.pen
        return lambda index, chosen, width: goal_row(goals[index], place(GOAL_COLUMNS, width), width, pen, chosen)

    def _draw_content(self, width: int, height: int) -> Panel:
        pen, today = self.pen, self.today
        if self.view == "goals":
            return Panel(tuple(self._goal_rows(width, height)), ())
        if self.record is None:
            return Panel((), ())
        if self.view == "days":
            return days_view(self.record, self.day, today, width=width, height=height, pen=pen)
        if self.facts is None or self._line is None:
            item = self.item
            what = "Nothing is recorded yet. What you play on the stand comes to stand here."
            return Panel(tuple(text_rows(what if item is None or item.record is None else "...", width)), ())
        facts, title = self.facts, self.title_of(self.facts.line.exercise)
        if self.view == "takes":
            return Panel(takes_view(facts, title, self.figure, width=width, height=height, pen=pen), ())
        return Panel(progress_view(facts, title, today, width=width, height=height, pen=pen), ())

    def _goal_rows(self, width: int, height: int) -> Sequence[CellRow]:
        known = self.chosen_goal
        if known is None:
            what = "No goals yet. Choose a riff and a part under progress, and press a to set one."
            return text_rows(what, width)[:height]
        return forecast_rows(known, self.today, width, self.pen)[:height]

    def _draw_aside(self, width: int, height: int) -> Panel:
        if self.record is None:
            return Panel((), ())
        return Panel(aside_view(self.record, self.goals, self.today, width, height, self.pen), ())

    def on_row_list_moved(self, message: RowList.Moved) -> None:
        """Show what the cursor came to."""
        if message.rows.id == "goals":
            self.show_view()
            return
        number = self.list.exercise_at(message.index)
        if number != self.list.opened:
            self.open(number)
        else:
            self.choose_line()

    def on_row_list_taken(self) -> None:
        """Put it on the stand."""
        self.action_open()

    # -- reading in the background ------------------------------------------------------------------------------

    def on_logbook_reader_record_read(self, message: LogbookReader.RecordRead) -> None:
        """Show the record, with the cursor where it was or where it is wanted."""
        self.record = message.facts
        self._heads = {head.id: head for head in reversed(message.heads)}
        asked = self.machine.memory.get(LOGBOOK_EXERCISE)
        if asked:
            self.machine.memory.put(LOGBOOK_EXERCISE, "")
        item = self.item
        wanted = asked or (item.exercise if item else "")
        line = item.line.line if item and item.line and item.exercise == wanted else None
        self.list = LogList(exercise_items(message.heads, message.records))
        if self.list.exercises:
            self.open(max(0, self.list.number_of(wanted)), line)
        else:
            self.show_view()
        self._reader.read_goals({name: head.title for name, head in self._heads.items()})

    def open(self, number: int, line: Line | None = None) -> None:
        """Show the lines of another exercise, with the cursor on it or on one of them."""
        item = self.list.exercises[number]
        records = self.machine.log.ask(reading.lines, item.exercise)
        lines = line_items(item, records, self._read.get(item.exercise))
        self.list = self.list.open(number, lines)
        at = next((n for n, each in enumerate(lines, 1) if line and each.line and each.line.line == line), 0)
        self.query_one("#list", RowList).set_rows(len(self.list), self._draw_item(), number + at)
        self.choose_line()

    def choose_line(self) -> None:
        """Read the line under the cursor; on an exercise, its line that was played last."""
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
        name = item.exercise
        self._reader.read_line(name, self._line, self._target_bpm(name), whole=name not in self._read)

    def _target_bpm(self, name: str) -> float:
        """The target of the chosen line as far as its file is known; 0 where it is not."""
        head, exercise = self._heads.get(name), self._read.get(name)
        riff = exercise.riff(self._line.riff) if exercise and self._line else None
        return float(riff.tempo.target) if riff else head.target_bpm if head else 0.0

    def on_logbook_reader_line_known(self, message: LogbookReader.LineKnown) -> None:
        """Show the line."""
        if message.facts.line == self._line:
            self.facts = message.facts
            self.show_view()

    def on_logbook_reader_exercise_read(self, message: LogbookReader.ExerciseRead) -> None:
        """List the exercise's other riffs, and take its riffs' targets."""
        self._read[message.name] = message.exercise
        item = self.item
        if message.exercise is None or item is None or item.exercise != message.name:
            return
        self.open(self.list.opened, item.line.line if item.line else None)

    def on_logbook_reader_goals_known(self, message: LogbookReader.GoalsKnown) -> None:
        """Show the goals."""
        self.goals = message.goals
        rows = self.query_one("#goals", RowList)
        rows.set_rows(len(self.goals), self._draw_goal(), max(0, rows.cursor))
        self.show_view()

    def title_of(self, exercise: str) -> str:
        """An exercise's title, or its id where it has no file."""
        head = self._heads.get(exercise)
        return head.title if head else exercise

    # -- moving -------------------------------------------------------------------------------------------------

    def action_view(self, name: str) -> None:
        """Show another view."""
        self.view = name
        self.show_view()

    def action_view_by(self, step: int) -> None:
        """The next view, or the one before."""
        self.action_view(VIEWS[(VIEWS.index(self.view) + step) % len(VIEWS)])

    def action_cursor_by(self, rows: int) -> None:
        """Move the cursor; in the calendar by days."""
        if self.view == "days":
            self.choose(self.day + timedelta(days=min(max(rows, -4000), 4000)))
        else:
            self._rows().move(rows)

    def action_page_by(self, pages: int) -> None:
        """Move by a window; in the calendar by four weeks."""
        if self.view == "days":
            self.choose(self.day + timedelta(weeks=4 * pages))
        else:
            self._rows().page(pages)

    def action_across(self, step: int) -> None:
        """To the next exercise or the one before; in the calendar to another week."""
        if self.view == "days":
            self.choose(self.day + timedelta(weeks=step))
        elif self.view != "goals" and self.list.exercises:
            number = min(max(0, self.list.opened + step), len(self.list.exercises) - 1)
            if number != self.list.opened:
                self.open(number)

    def action_choose_day(self, day: str) -> None:
        """Choose a day of the calendar."""
        self.choose(date.fromisoformat(day))

    def choose(self, day: date) -> None:
        """Choose a day, from the first one of practice up to today."""
        first = min(self.record.days, default=self.today) if self.record else self.today
        self.day = min(max(day, first - timedelta(days=first.weekday())), self.today)
        self.show_view()

    def _rows(self) -> RowList:
        return self.query_one("#goals" if self.view == "goals" else "#list", RowList)

    def action_open(self) -> None:
        """Put the chosen riff on the stand."""
        goal = self.chosen_goal
        line = goal.goal.line if goal else self._line
        item = self.item
        if line is None and item is None:
            self.post_message(Tell("There is nothing to play here: choose an exercise on the shelf."))
        elif line is not None:
            self.post_message(OpenExercise(line.exercise, line.riff, line.part))
        elif item is not None:
            self.post_message(OpenExercise(item.exercise))

    def action_next_figure(self) -> None:
        """Plot another figure of the takes."""
        self.figure = (self.figure + 1) % len(FIGURES)
        self.show_view()

    def action_find(self) -> None:
        """Go to an exercise by some of its words."""
        shown = self.list

        def check(text: str) -> str:
            return "" if shown.found(text, shown.opened) >= 0 else "No exercise has all of these words."

        def take(text: str | None) -> None:
            if text is not None:
                self.open(self.list.found(text, self.list.opened))

        self.app.push_screen(AskLine("Find an exercise with the words:", check), take)

    # -- goals --------------------------------------------------------------------------------------------------

    def action_add_goal(self) -> None:
        """Ask for a target for the chosen line."""
        goal = self.chosen_goal
        line = goal.goal.line if goal else self.facts.line if self.facts else None
        if line is None:
            self.post_message(Tell("Choose a riff and a part first: a goal is set on one of them."))
            return

        def take(text: str | None, line: Line = line) -> None:
            if text is not None:
                self.set_goal(line, *typed_goal(text))

        name = f"{self.title_of(line.exercise)}, {line.riff or 'the whole form'}, {line.part}"
        question = f"A goal for {name}: a tempo in bpm, and a date if you like, such as 160 2031-05-01"
        self.app.push_screen(AskLine(question, trouble(typed_goal)), take)

    def set_goal(self, line: Line, target_bpm: float, by: date | None) -> None:
        """Keep a new goal."""
        self.machine.log.change(put_goal, Goal(uuid4().hex, line, target_bpm, by, self.machine.now()))
        self.post_message(Tell(f"The goal is set: {target_bpm:g} bpm{f' by {by.isoformat()}' if by else ''}."))
        self._reader.read_record()

    def action_change_goal(self, state: str) -> None:
        """Call the chosen goal reached, give it up, or take it up again."""
        known = self.chosen_goal
        if known is None:
            self.post_message(Tell("Choose a goal first: 4 shows them."))
            return
        at_ms = round(self.machine.now().timestamp() * 1000)
        self.machine.log.change(change_goal, known.goal.uuid, GoalState(state), at_ms)
        said = {"reached": "The goal is reached.", "given up": "The goal is given up.", "kept": "The goal is kept."}
        self.post_message(Tell(said[state]))
        self._reader.read_record()

    # -- export -------------------------------------------------------------------------------------------------

    def action_export(self) -> None:
        """Ask for a file, and write the record there."""

        def take(text: str | None) -> None:
            if text is None:
                return
            path = record_file(text)
            if not path.exists():
                self._reader.export(path)
                return
            question = f"{path} exists already."
            self.app.push_screen(
                Choose(question, ("Leave it as it is", "Replace it")), lambda index: replaced(path, index)
            )

        def replaced(path: Path, index: int | None) -> None:
            if index == 1:
                self._reader.export(path)

        question = "Export the whole record to a file ending in .json (everything) or .csv (the passes):"
        usual = str(Path.home() / "twinspur-log.json")
        self.app.push_screen(AskLine(question, trouble(record_file), usual), take)
