"""Today: a plan for the minutes the player has. Every block opens the stand; blocks that were played are done."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date

from textual import work
from textual.app import ComposeResult
from textual.message import Message
from textual.screen import Screen
from textual.worker import get_current_worker

from trainer.practice.cautions import BY_ID, Where, cautions
from trainer.practice.days import practice_day
from trainer.practice.line import Line
from trainer.practice.plan import MOST_MINUTES, PlanBlock, Purpose
from trainer.screens.actions import bindings_for, hinted
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, Panel, plain_row
from trainer.screens.drawing.logbook_rows import text_rows
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.plan_rows import COLUMNS, about, block_row, summary, time_line
from trainer.screens.drawing.tables import heading_row, place
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.widgets.page_lines import HintsView, PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import DrawnPanel
from trainer.session.actions import Begin
from trainer.session.choices import Method
from trainer.session.day_plan import KEPT_PLAN, DayPlan, fill, made_anew, next_block, plan_of, played_today, states
from trainer.session.machine import Machine


class TodayScreen(Screen[None]):
    """Today's plan."""

    BINDINGS = bindings_for("today")
    CSS_PATH = "record.tcss"
    page = "today"

    class Planned(Message):
        """A plan was made, or the record was asked how much of the plan was played."""

        def __init__(
            self, request: int, plan: DayPlan, played: dict[Line, float], titles: dict[str, str], unread: int
        ) -> None:
            """Tell of it.

            Args:
                request: which request it answers; a later one may be under way.
                plan: the plan.
                played: seconds that each line of it was played on its day.
                titles: of the exercises, by id.
                unread: how many exercises could not be read.
            """
            super().__init__()
            self.request, self.plan, self.played, self.titles, self.unread = request, plan, played, titles, unread

    def __init__(self, machine: Machine, pen: Pen) -> None:
        """Take up the plan that was kept, if it is today's.

        Args:
            machine: what the screens work with.
            pen: the characters to draw with.
        """
        super().__init__()
        self.machine, self.pen = machine, pen
        self.plan = plan_of(machine.memory.get(KEPT_PLAN), self.today)
        self.played: Mapping[Line, float] = {}
        self._titles: dict[str, str] = {}
        self._unread = 0
        self._ready = False
        self._request = 0
        self._replanning = False
        """Whether the request under way makes another plan: until it is there, the old one is shown."""

    @property
    def today(self) -> date:
        """The day of practice it is."""
        return practice_day(self.machine.now())

    @property
    def states(self) -> tuple[str, ...]:
        """How far every block is: "done", "begun" or nothing."""
        return states(self.plan, self.played)

    # -- composing ----------------------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        """The day as a line of time, the blocks, and what the chosen one is for."""
        yield PageTop("today", self.pen, id="title")
        yield HintsView(self.page, self.pen, id="hints")
        yield DrawnPanel(id="time")
        yield DrawnPanel(id="headings")
        yield RowList(id="list")
        yield DrawnPanel(id="about")

    def on_mount(self) -> None:
        """Draw, and plan."""
        self.query_one(HintsView).set_actions(hinted(self.page))
        self.query_one("#time", DrawnPanel).set_source(self._draw_time)
        self.query_one("#headings", DrawnPanel).set_source(
            lambda width, _: Panel((heading_row(place(COLUMNS, width), width),), ())
        )
        self.query_one("#about", DrawnPanel).set_source(self._draw_about)

    def on_screen_resume(self) -> None:
        """Another day has another plan; and something may have been practised."""
        if self.plan.day != self.today:
            self.plan = plan_of(self.plan, self.today)
        if self._replanning:  # the question that led to another plan was over this screen
            self.plan_again(self.plan)
        else:
            self._ask(self.plan, replan=not self.plan.blocks)

    # -- planning -----------------------------------------------------------------------------------------------

    def plan_again(self, changed: DayPlan) -> None:
        """Plan the time that is left anew; blocks that are done stay, and the old plan is shown until then."""
        begun = made_anew(self.plan, self.played, changed.minutes, changed.in_turns)
        self.plan = replace(self.plan, minutes=changed.minutes, in_turns=changed.in_turns)
        self._ask(begun, replan=True)

    def _ask(self, kept: DayPlan, *, replan: bool) -> None:
        self._request += 1
        self._replanning = replan
        self._ask_in_thread(self._request, kept, replan)

    @work(thread=True, exclusive=True, group="planning")
    def _ask_in_thread(self, request: int, kept: DayPlan, replan: bool) -> None:
        """Ask how much of a plan was played, and when replanning fill its minutes first."""
        log, exercises = self.machine.log, self.machine.exercises
        worker, unread = get_current_worker(), 0
        heads = [head for head in exercises.heads() if not head.problem]
        titles = {head.id: head.title for head in reversed(heads)}
        if replan:
            kept, problems = fill(kept, heads, exercises, log, lambda: worker.is_cancelled)
            unread = len(problems)
        played = played_today(kept, log)
        if not worker.is_cancelled:
            self.post_message(self.Planned(request, kept, played, titles, unread))

    def on_today_screen_planned(self, message: Planned) -> None:
        """Show the plan, with the cursor on what comes next."""
        if message.request != self._request:
            return
        fresh = self._replanning or not self._ready
        if self._replanning:
            self.plan = message.plan
        self.played, self._titles, self._unread = message.played, message.titles, message.unread
        self._ready, self._replanning = True, False
        rows = self.query_one(RowList)
        self.show_plan(next_block(self.states) if fresh else rows.cursor)
        self.keep()

    def keep(self) -> None:
        """Keep the plan for the next start."""
        self.machine.memory.put(KEPT_PLAN, self.plan)

    # -- showing ------------------------------------------------------------------------------------------------

    def show_plan(self, cursor: int) -> None:
        """Draw everything."""
        self.query_one(RowList).set_rows(len(self.plan.blocks), self._row_drawer(), cursor)
        self.show_words()

    def show_words(self) -> None:
        """Draw what there is to say about the plan and the chosen block."""
        for name in ("#time", "#headings", "#about"):
            self.query_one(name, DrawnPanel).redraw()
        turns = "in turns" if self.plan.in_turns else "one after the other"
        self.query_one(PageTop).say(f"{self.plan.minutes} minutes, riffs {turns}")

    def _row_drawer(self) -> Callable[[int, bool, int], CellRow]:
        blocks, known, titles, pen = self.plan.blocks, self.states, self._titles, self.pen

        def draw(index: int, chosen: bool, width: int) -> CellRow:
            block = blocks[index]
            title = titles.get(block.line.exercise, block.line.exercise) if block.line else ""
            return block_row(block, title, known[index], place(COLUMNS, width), width=width, pen=pen, chosen=chosen)

        return draw

    @property
    def chosen(self) -> PlanBlock | None:
        """The block under the cursor."""
        at = self.query_one(RowList).cursor
        return self.plan.blocks[at] if 0 <= at < len(self.plan.blocks) else None

    def _draw_time(self, width: int, _: int) -> Panel:
        done = [state == "done" for state in self.states]
        if not self.plan.blocks:
            return Panel((plain_row("", width),), ())
        return Panel(
            (time_line(self.plan.blocks, done, self.query_one(RowList).cursor, width, self.pen),),
            (),
        )

    def _draw_about(self, width: int, height: int) -> Panel:
        block = self.chosen
        rows = []
        if block is not None:
            rows += text_rows(about(block, self._titles), width, ink.STRONG)
            rows += text_rows(summary(self.plan.blocks, [state == "done" for state in self.states]), width)
            rows += text_rows(BY_ID["pain"].text.partition(". ")[2], width, ink.QUIET)
        elif self._ready:
            what = (
                "There is nothing to play: no exercise could be read. Add a folder on the shelf, or mend a file there."
            )
            rows += text_rows(what, width)
        else:
            rows += text_rows("planning ...", width, ink.QUIET)
        if self._unread:
            files = "exercise" if self._unread == 1 else "exercises"
            rows += text_rows(f"{self._unread} {files} could not be read: the shelf tells why.", width)
        return Panel(tuple(rows[:height]), ())

    def on_row_list_moved(self) -> None:
        """Describe the block the cursor came to."""
        self.show_words()

    def on_row_list_taken(self) -> None:
        """Put it on the stand."""
        self.action_open()

    # -- what the player does -----------------------------------------------------------------------------------

    def action_open(self) -> None:
        """Put the chosen block on the stand; in a break, say what a break is good for."""
        block = self.chosen
        if block is None:
            return
        if block.line is not None:
            way = Method.LADDER if block.kind in {Purpose.RIFF, Purpose.ASSIGNED} else Method.PLAIN
            begin = Begin(way, block.bar, block.tempo_bpm, block.last_bar)
            self.post_message(OpenExercise(*block.line, begin))
            return
        from trainer.screens.asking import Notice

        def over(read: bool | None) -> None:
            if read:
                self.mark(True)

        texts = [(caution.title, caution.text) for caution in cautions(Where.BREAK)]
        self.app.push_screen(Notice(f"{block.minutes} minutes of rest", texts, "enter: rested   escape: not yet"), over)

    def action_toggle_done(self) -> None:
        """The chosen block is done, or not."""
        at = self.query_one(RowList).cursor
        if 0 <= at < len(self.plan.blocks):
            self.mark(self.states[at] != "done")

    def mark(self, done: bool) -> None:
        """Call the chosen block done, or not, and go on to the next one."""
        rows = self.query_one(RowList)
        at = rows.cursor
        self.plan = self.plan.toggled(at, done)
        self.keep()
        self.show_plan(min(at + 1, len(self.plan.blocks) - 1) if done else at)
        if self._replanning:
            self.plan_again(self.plan)  # from what is done now

    def action_cursor_by(self, rows: int) -> None:
        """Move the cursor."""
        self.query_one(RowList).move(rows)

    def action_minutes_by(self, minutes: int) -> None:
        """Plan with more minutes, or with fewer."""
        now = self.plan.minutes
        wanted = now + minutes if now % 5 == 0 else now - now % 5 + (minutes if minutes > 0 else 0)
        self.set_minutes(wanted)

    def set_minutes(self, minutes: int) -> None:
        """Plan with so many minutes."""
        minutes = min(max(5, minutes), MOST_MINUTES)
        if minutes != self.plan.minutes:
            self.plan_again(replace(self.plan, minutes=minutes))

    def action_ask_minutes(self) -> None:
        """Ask for the minutes there are."""
        from trainer.screens.asking import AskLine
        from trainer.screens.typed import trouble, typed_minutes

        def take(text: str | None) -> None:
            if text is not None:
                self.set_minutes(typed_minutes(text))

        question = "How many minutes do you have?"
        self.app.push_screen(AskLine(question, trouble(typed_minutes), str(self.plan.minutes)), take)

    def action_toggle_turns(self) -> None:
        """Riffs in turns, or one after the other."""
        self.plan_again(replace(self.plan, in_turns=not self.plan.in_turns))

    def action_new_plan(self) -> None:
        """Plan what is left anew, from the record as it is now."""
        self.plan_again(self.plan)
        self.post_message(Tell("A new plan is made."))
