"""Today: a plan for the minutes the player has. Every block opens the stand; what was played is marked as done."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date

from textual import work
from textual.app import ComposeResult
from textual.message import Message
from textual.screen import Screen
from textual.worker import get_current_worker

from trainer.music.problem import ProblemsError
from trainer.practice import reading
from trainer.practice.cautions import BY_ID, Where, cautions
from trainer.practice.days import practice_day
from trainer.practice.line import Line
from trainer.practice.plan import MOST_MINUTES, Block, Kind, plan
from trainer.practice.today import candidates, exercises_for_today
from trainer.screens.bindings import bindings_for
from trainer.screens.choices import Begin, Way
from trainer.screens.drawing import ink
from trainer.screens.drawing.hint_order import hinted
from trainer.screens.drawing.ink import Row, plain_row
from trainer.screens.drawing.logbook_views import told
from trainer.screens.drawing.plan_rows import COLUMNS, about, block_row, summary, time_line
from trainer.screens.drawing.table_row import heading_row, place
from trainer.screens.drawing.zones import Panel
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.today_plan import DayPlan, next_block, states
from trainer.screens.widgets.drawn_panel import DrawnPanel
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.page_top import PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.wiring import Wiring

KEPT = "today"
"""Where the memory keeps the plan."""


class TodayScreen(Screen[None]):
    """Today's plan."""

    BINDINGS = bindings_for("today")
    CSS_PATH = "record.tcss"
    page = "today"

    class Planned(Message):
        """A plan was made, or the record was asked how much of it was played."""

        def __init__(self, plan: DayPlan, played: dict[Line, float], titles: dict[str, str], unread: int) -> None:
            super().__init__()
            self.plan, self.played, self.titles, self.unread = plan, played, titles, unread

    def __init__(self, wiring: Wiring) -> None:
        super().__init__()
        self.wiring = wiring
        self.plan = DayPlan.from_dict(wiring.memory.get(KEPT), self.today)
        self.played: Mapping[Line, float] = {}
        self._titles: dict[str, str] = {}
        self._unread = 0
        self._ready = False

    @property
    def today(self) -> date:
        """The day of practice it is."""
        return practice_day(self.wiring.now())

    @property
    def states(self) -> tuple[str, ...]:
        """What was done of every block."""
        return states(self.plan, self.played)

    # -- composing ----------------------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        """The day as a line of time, the blocks, and what the chosen one is for."""
        yield PageTop("today", self.wiring.pen, id="title")
        yield HintsView(id="hints")
        yield DrawnPanel(id="time")
        yield DrawnPanel(id="headings")
        yield RowList(id="list")
        yield DrawnPanel(id="about")

    def on_mount(self) -> None:
        """Draw, and plan."""
        self.query_one(HintsView).set_actions(hinted(self.page), self.wiring.pen)
        self.query_one("#time", DrawnPanel).set_source(self._draw_time)
        self.query_one("#headings", DrawnPanel).set_source(
            lambda width, _: Panel((heading_row(place(COLUMNS, width), width),), ())
        )
        self.query_one("#about", DrawnPanel).set_source(self._draw_about)

    def on_screen_resume(self) -> None:
        """Another day has another plan; and something may have been practised."""
        if self.plan.day != self.today:
            self.plan = DayPlan.from_dict(self.plan.as_dict(), self.today)
        self.ask(self.plan)

    # -- planning -----------------------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="planning")
    def ask(self, kept: DayPlan) -> None:
        """Make the plan, unless there is one, and ask how much of it was played."""
        log, exercises, today = self.wiring.log, self.wiring.exercises, kept.day
        worker, unread = get_current_worker(), 0
        heads = [head for head in exercises.heads() if not head.problem]
        titles = {head.id: head.title for head in reversed(heads)}
        if not kept.blocks:
            shelf = [head.id for head in sorted(heads, key=lambda head: head.target_bpm)]
            found = []
            for name in exercises_for_today(shelf, log.ask(reading.exercises), today):
                if worker.is_cancelled:
                    return
                try:
                    found.append(exercises.read(exercises.find(name)))
                except ProblemsError:
                    unread += 1
            blocks = plan(candidates(found, log), kept.minutes, today, in_turns=kept.in_turns)
            kept = replace(kept, blocks=blocks)
            kept = replace(kept, before=tuple(self._played(kept).items()))
        played = self._played(kept)
        if not worker.is_cancelled:
            self.post_message(self.Planned(kept, played, titles, unread))

    def _played(self, kept: DayPlan) -> dict[Line, float]:
        """Seconds that every line of the plan was played on its day."""
        answer = {}
        for line in dict.fromkeys(block.line for block in kept.blocks if block.line is not None):
            days = self.wiring.log.ask(reading.line_days, line)
            answer[line] = days[-1].seconds if days and days[-1].day == kept.day else 0.0
        return answer

    def on_today_screen_planned(self, message: Planned) -> None:
        """Show it, with the cursor on what comes next."""
        fresh = message.plan.blocks != self.plan.blocks or not self._ready
        self.plan = replace(self.plan, blocks=message.plan.blocks, before=message.plan.before)
        self.played, self._titles, self._unread = message.played, message.titles, message.unread
        self._ready = True
        rows = self.query_one(RowList)
        self.show_plan(next_block(self.states) if fresh else rows.cursor)
        self.keep()

    def keep(self) -> None:
        """Find it again at the next start."""
        self.wiring.memory.put(KEPT, self.plan.as_dict())

    def plan_anew(self, changed: DayPlan) -> None:
        """Make another plan."""
        self.plan = replace(changed, blocks=(), ticked=frozenset(), unticked=frozenset(), before=())
        self.ask(self.plan)

    # -- showing ------------------------------------------------------------------------------------------------

    def show_plan(self, cursor: int) -> None:
        """Draw everything."""
        self.query_one(RowList).set_rows(len(self.plan.blocks), self._row_drawer(), cursor)
        self.show_told()

    def show_told(self) -> None:
        """Draw what is told of the plan and of the chosen block."""
        for name in ("#time", "#headings", "#about"):
            self.query_one(name, DrawnPanel).redraw()
        turns = "in turns" if self.plan.in_turns else "one after the other"
        self.query_one(PageTop).say(f"{self.plan.minutes} minutes, riffs {turns}")

    def _row_drawer(self) -> Callable[[int, bool, int], Row]:
        blocks, known, titles, pen = self.plan.blocks, self.states, self._titles, self.wiring.pen

        def draw(index: int, chosen: bool, width: int) -> Row:
            block = blocks[index]
            title = titles.get(block.line.exercise, block.line.exercise) if block.line else ""
            return block_row(block, title, known[index], place(COLUMNS, width), width=width, pen=pen, chosen=chosen)

        return draw

    @property
    def chosen(self) -> Block | None:
        """The block under the cursor."""
        at = self.query_one(RowList).cursor
        return self.plan.blocks[at] if 0 <= at < len(self.plan.blocks) else None

    def _draw_time(self, width: int, _: int) -> Panel:
        done = [state == "done" for state in self.states]
        if not self.plan.blocks:
            return Panel((plain_row("", width),), ())
        return Panel((time_line(self.plan.blocks, done, self.query_one(RowList).cursor, width, self.wiring.pen),), ())

    def _draw_about(self, width: int, height: int) -> Panel:
        block = self.chosen
        rows = []
        if block is not None:
            rows += told(about(block, self._titles), width, ink.STRONG)
            rows += told(summary(self.plan.blocks, [state == "done" for state in self.states]), width)
            rows += told(BY_ID["pain"].text.partition(". ")[2], width, ink.QUIET)
        elif self._ready:
            what = (
                "There is nothing to play: no exercise could be read. Add a folder on the shelf, or mend a file there."
            )
            rows += told(what, width)
        else:
            rows += told("planning ...", width, ink.QUIET)
        if self._unread:
            files = "exercise" if self._unread == 1 else "exercises"
            rows += told(f"{self._unread} {files} could not be read: the shelf tells why.", width)
        return Panel(tuple(rows[:height]), ())

    def on_row_list_moved(self) -> None:
        """Tell of the block the cursor came to."""
        self.show_told()

    def on_row_list_taken(self) -> None:
        """Play it."""
        self.action_open()

    # -- what the player does -----------------------------------------------------------------------------------

    def action_open(self) -> None:
        """Put the chosen block on the stand; in a break, say what a break is good for."""
        block = self.chosen
        if block is None:
            return
        if block.line is not None:
            way = Way.LADDER if block.kind is Kind.RIFF else Way.PLAIN
            self.post_message(OpenExercise(*block.line, Begin(way, block.bar, block.tempo_bpm)))
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
        if at >= 0:
            self.mark(self.states[at] != "done")

    def mark(self, done: bool) -> None:
        """Call the chosen block done, or not, and go on to the next one."""
        rows = self.query_one(RowList)
        at = rows.cursor
        self.plan = self.plan.toggled(at, done)
        self.keep()
        self.show_plan(min(at + 1, len(self.plan.blocks) - 1) if done else at)

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
            self.plan_anew(replace(self.plan, minutes=minutes))

    def action_ask_minutes(self) -> None:
        """Ask for the minutes there are."""
        from trainer.screens.asking import AskLine

        def check(text: str) -> str:
            right = text.strip().isdigit() and 5 <= int(text) <= MOST_MINUTES
            return "" if right else f"Type whole minutes, from 5 to {MOST_MINUTES}."

        def take(text: str | None) -> None:
            if text is not None:
                self.set_minutes(int(text))

        self.app.push_screen(AskLine("How many minutes do you have?", check, str(self.plan.minutes)), take)

    def action_toggle_turns(self) -> None:
        """Riffs in turns, or one after the other."""
        self.plan_anew(replace(self.plan, in_turns=not self.plan.in_turns))

    def action_new_plan(self) -> None:
        """Plan again from the record as it is now."""
        self.plan_anew(self.plan)
        self.post_message(Tell("A new plan is made."))
