"""The logbook: what was practised, how fast it became, when the goals will be reached; to read and to carry out."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from trainer.screens.actions import actions_for, key_name
from trainer.screens.bindings import bindings_for
from trainer.screens.drawing.goal_rows import COLUMNS as GOAL_COLUMNS
from trainer.screens.drawing.goal_rows import KnownGoal, forecast_rows, goal_row
from trainer.screens.drawing.hint_order import hinted
from trainer.screens.drawing.ink import Row
from trainer.screens.drawing.logbook_rows import VIEWS, Item, item_row, view_line
from trainer.screens.drawing.logbook_views import aside_view, days_view, progress_view, takes_view, told
from trainer.screens.drawing.table_row import heading_row, place
from trainer.screens.drawing.zones import Panel
from trainer.screens.logbook_asking import AsksRecord
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.widgets.drawn_panel import DrawnPanel
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.page_top import PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.wiring import Wiring

MEDIUM, WIDE = 110, 160
"""Cells of a window from which on the list is wider, and from which on the calendar and the goals stand beside."""
NOT_THERE = {"goals": ("find",), "": ("reached", "give_up", "take_up")}
"""Hints by view that would do nothing there."""


class LogbookScreen(AsksRecord):
    """The record of practice."""

    BINDINGS = bindings_for("logbook")
    CSS_PATH = "record.tcss"
    page = "logbook"

    def __init__(self, wiring: Wiring) -> None:
        super().__init__(wiring)
        self.view = VIEWS[0]
        self.day = self.today
        self.figure = 0

    # -- composing ----------------------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        """The views by name; the list and, beside it, one view; in wide windows everything else beside that."""
        yield PageTop("logbook", self.wiring.pen, id="title")
        yield HintsView(id="hints")
        yield DrawnPanel(id="views")
        with Horizontal(id="between"):
            yield RowList(id="list")
            with Vertical(id="main"):
                yield DrawnPanel(id="headings")
                yield RowList(id="goals")
                yield DrawnPanel(id="content")
            yield DrawnPanel(id="aside")

    def on_mount(self) -> None:
        """Draw what is known so far: nothing."""
        keys = [key_name(each.keys[0]) for each in actions_for(self.page) if each.name in VIEWS]
        self.query_one("#views", DrawnPanel).set_source(lambda width, _: view_line(self.view, keys, width))
        self.query_one("#headings", DrawnPanel).set_source(
            lambda width, _: Panel((heading_row(place(GOAL_COLUMNS, width), width),), ())
        )
        self.query_one("#content", DrawnPanel).set_source(self._draw_content)
        self.query_one("#aside", DrawnPanel).set_source(self._draw_aside)
        self.show_view()

    def on_screen_resume(self) -> None:
        """Ask again: something may have been practised."""
        self.ask()

    def on_resize(self) -> None:
        """As many columns as the window has room for."""
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
        """Draw what is shown now."""
        for name in VIEWS:
            self.set_class(name == self.view, f"shows-{name}")
        left_out = NOT_THERE.get(self.view, NOT_THERE[""])
        hints = [each for each in hinted(self.page) if each.name not in left_out]
        self.query_one(HintsView).set_actions(hints, self.wiring.pen)
        for panel in ("#views", "#headings", "#content", "#aside"):
            self.query_one(panel, DrawnPanel).redraw()
        self.query_one(PageTop).say(self._told())

    def _told(self) -> str:
        record = self.record
        if record is None:
            return "asking the log ..."
        if not self.wiring.log.kept:
            return "kept in memory only: it cannot be written"
        days = record.streak.now
        return f"{record.totals.passes} passes, {days} day{'' if days == 1 else 's'} in a row"

    def _draw_item(self) -> Callable[[int, bool, int], Row]:
        shown, today, pen = self.list, self.today, self.wiring.pen
        return lambda index, chosen, width: item_row(shown[index], today, width=width, pen=pen, chosen=chosen)

    def _draw_goal(self) -> Callable[[int, bool, int], Row]:
        goals, pen = self.goals, self.wiring.pen
        return lambda index, chosen, width: goal_row(goals[index], place(GOAL_COLUMNS, width), width, pen, chosen)

    def _draw_content(self, width: int, height: int) -> Panel:
        pen, today = self.wiring.pen, self.today
        if self.view == "goals":
            return Panel(tuple(self._goal_rows(width, height)), ())
        if self.record is None:
            return Panel((), ())
        if self.view == "days":
            return days_view(self.record, self.day, today, width=width, height=height, pen=pen)
        if self.facts is None or self._line is None:
            item = self.item
            what = "Nothing is recorded yet. What you play on the stand comes to stand here."
            return Panel(tuple(told(what if item is None or item.record is None else "...", width)), ())
        facts, title = self.facts, self.title_of(self.facts.line.exercise)
        if self.view == "takes":
            return Panel(takes_view(facts, title, self.figure, width=width, height=height, pen=pen), ())
        return Panel(progress_view(facts, title, today, width=width, height=height, pen=pen), ())

    def _goal_rows(self, width: int, height: int) -> Sequence[Row]:
        known = self.chosen_goal
        if known is None:
            what = "No goals yet. Choose a riff and a part under progress, and press a to set one."
            return told(what, width)[:height]
        return forecast_rows(known, self.today, width, self.wiring.pen)[:height]

    def _draw_aside(self, width: int, height: int) -> Panel:
        if self.record is None:
            return Panel((), ())
        return Panel(aside_view(self.record, self.goals, self.today, width, height, self.wiring.pen), ())

    def on_row_list_moved(self, message: RowList.Moved) -> None:
        """Tell of what the cursor came to."""
        if message.rows.id == "goals":
            self.show_view()
            return
        number = self.list.exercise_at(message.index)
        if number != self.list.opened:
            self.open(number)
        else:
            self.choose_line()

    def on_row_list_taken(self) -> None:
        """Play it."""
        self.action_open()

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
