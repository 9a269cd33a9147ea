"""The shelf: every exercise, found by typing and by filters. Files are read again as they change."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.screen import Screen
from textual.timer import Timer
from textual.widgets import Input
from textual.worker import get_current_worker

from trainer.music.problem import ProblemsError
from trainer.notation.head import Head
from trainer.practice import reading
from trainer.practice.days import practice_day
from trainer.practice.reading import ExerciseRecord, LineRecord
from trainer.screens.actions import action, key_name
from trainer.screens.bindings import bindings_for
from trainer.screens.drawing import ink
from trainer.screens.drawing.hint_order import hinted
from trainer.screens.drawing.ink import Row, plain_row
from trainer.screens.drawing.panel import Panel, Zone
from trainer.screens.drawing.shelf_rows import COLUMNS, detail_rows, entry_row, filter_line
from trainer.screens.drawing.table_row import Placed, heading_row, place
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.shelf_entries import (
    BANDS,
    Entry,
    Order,
    Wanted,
    Words,
    entries,
    keys,
    matching,
    ordered,
    tags,
    twin_files,
)
from trainer.screens.shelf_files import AGAIN_SECONDS, LOOK_SECONDS, Looked, checked, scan
from trainer.screens.widgets.drawn_panel import DrawnPanel
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.page_top import PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import Rows
from trainer.screens.wiring import Wiring

WIDE = 120
"""Cells of a window from which on the chosen exercise is told of beside the list, and not below it."""
CHOSEN = "shelf exercise"
"""Where the memory keeps the file under the cursor."""


class ShelfScreen(Screen[None]):
    """Every exercise the player has."""

    BINDINGS = bindings_for("shelf")
    AUTO_FOCUS = "#find"
    page = "shelf"

    class Listed(Message):
        """The files were looked through in the background."""

        def __init__(self, heads: tuple[Head, ...], records: dict[str, ExerciseRecord], seconds: float) -> None:
            super().__init__()
            self.heads, self.records, self.seconds = heads, records, seconds

    class Checked(Message):
        """Files in view were read whole in the background."""

        def __init__(self, found: dict[str, Looked]) -> None:
            super().__init__()
            self.found = found

    class LinesRead(Message):
        """What the log says of an exercise's lines."""

        def __init__(self, exercise: str, lines: tuple[LineRecord, ...]) -> None:
            super().__init__()
            self.exercise, self.lines = exercise, lines

    def __init__(self, wiring: Wiring) -> None:
        super().__init__()
        self.wiring = wiring
        self.wanted = Wanted()
        self.shown: tuple[Entry, ...] = ()
        """The exercises that are listed."""
        self._heads: tuple[Head, ...] = ()
        self._records: dict[str, ExerciseRecord] = {}
        self._looked: dict[str, Looked] = {}
        self._all: tuple[Entry, ...] = ()
        self._ordered: tuple[Entry, ...] = ()
        self._hidden: dict[str, str] = {}
        self._lines: tuple[str, tuple[LineRecord, ...]] = ("", ())
        self._words = Words()
        self._placed: tuple[Placed, ...] = ()
        self._file = str(wiring.memory.get(CHOSEN) or "")
        self._listed = False
        self._look: Timer | None = None

    # -- composing ----------------------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        """The line to type in, the filters, the list, and what there is to say of the chosen exercise."""
        yield PageTop("shelf", self.wiring.pen, id="title")
        yield HintsView(id="hints")
        with Horizontal(id="finding"):
            yield Rows(id="label")
            yield Input(id="find", placeholder="type some of a title, a tag, a key, a riff", compact=True)
        yield DrawnPanel(id="filters")
        with Horizontal(id="between"):
            with Vertical(id="left"):
                yield DrawnPanel(id="headings")
                yield RowList(id="list")
            yield DrawnPanel(id="detail")

    def on_mount(self) -> None:
        """Look for exercises at once."""
        pen = self.wiring.pen
        self.query_one(HintsView).set_actions(hinted(self.page), pen)
        self.query_one("#find", Input).cursor_blink = False
        self.query_one("#label", Rows).show([plain_row(" find", 6, ink.LABEL)])
        self.query_one("#filters", DrawnPanel).set_source(self._draw_filters)
        self.query_one("#headings", DrawnPanel).set_source(self._draw_headings)
        self.query_one("#detail", DrawnPanel).set_source(self._draw_detail)
        self.scan()

    def on_resize(self) -> None:
        """The chosen exercise is told of beside the list, or below it."""
        self.set_class(self.size.width >= WIDE, "wide")
        self.set_class(self.size.height < 16, "low")

    def on_screen_resume(self) -> None:
        """Something may have been practised, or written, meanwhile."""
        if self._listed:
            self.scan()

    def on_screen_suspend(self) -> None:
        """Remember where the cursor was."""
        self.wiring.memory.put(CHOSEN, self._file)

    @property
    def today(self) -> date:
        """The day of practice it is."""
        return practice_day(self.wiring.now())

    @property
    def chosen(self) -> Entry | None:
        """The exercise under the cursor."""
        at = self.query_one(RowList).cursor
        return self.shown[at] if 0 <= at < len(self.shown) else None

    # -- reading ------------------------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="files")
    def scan(self) -> None:
        """Look through the folders and the log without holding up the screen."""
        heads, records, seconds = scan(self.wiring)
        if not get_current_worker().is_cancelled:
            self.post_message(self.Listed(heads, records, seconds))

    def on_shelf_screen_listed(self, message: Listed) -> None:
        """Show what changed, and look again after a while."""
        self.set_timer(max(AGAIN_SECONDS, 30 * message.seconds), self._scan_again)
        same = message.heads == self._heads and message.records == self._records
        if same and self._listed:
            return
        self._heads, self._records, self._listed = message.heads, message.records, True
        self._arrange()
        self.look_soon()

    def _scan_again(self) -> None:
        if self.is_current:
            self.scan()

    def look_soon(self) -> None:
        """Read the files in view whole, once the player pauses."""
        if self._look is not None:
            self._look.stop()
        self._look = self.set_timer(LOOK_SECONDS, self._look_now)

    def _look_now(self) -> None:
        in_view = [self.shown[index].head for index in self.query_one(RowList).in_view if index < len(self.shown)]
        unread = [head for head in in_view if not head.problem and not self._is_looked(head)]
        chosen = self.chosen
        self.look_into(tuple(unread), chosen.head.id if chosen else "")

    def _is_looked(self, head: Head) -> bool:
        found = self._looked.get(head.file)
        return found is not None and found.head is head

    @work(thread=True, exclusive=True, group="looking")
    def look_into(self, unread: Sequence[Head], exercise: str) -> None:
        """Read some files whole, and what the log says of an exercise."""
        worker = get_current_worker()
        if exercise:
            self.post_message(self.LinesRead(exercise, self.wiring.log.ask(reading.lines, exercise)))
        for head in unread:
            if worker.is_cancelled:
                return
            self.post_message(self.Checked({head.file: checked(self.wiring.exercises, head)}))

    def on_shelf_screen_checked(self, message: Checked) -> None:
        """Show what is wrong with a file."""
        self._looked |= message.found
        if any(looked.wrong for looked in message.found.values()):
            self._arrange()

    def on_shelf_screen_lines_read(self, message: LinesRead) -> None:
        """Tell of the parts of the chosen exercise."""
        self._lines = (message.exercise, message.lines)
        self.query_one("#detail", DrawnPanel).redraw()

    # -- showing ------------------------------------------------------------------------------------------------

    def _arrange(self) -> None:
        """Everything anew: other files, other records, another order."""
        wrong = {file: looked.wrong for file, looked in self._looked.items() if looked.wrong}
        current = {head.file: head for head in self._heads} if wrong else {}
        wrong = {file: text for file, text in wrong.items() if current.get(file) is self._looked[file].head}
        self._all = entries(self._heads, self._records, wrong)
        self._hidden = twin_files(self._all)
        self._ordered = ordered(self._all, self.wanted.order)
        self.show_wanted()

    def show_wanted(self) -> None:
        """List what is wanted, with the cursor on the exercise it was on."""
        self.shown = matching(self._ordered, self.wanted, self.today.toordinal(), self._words.of)
        files = [entry.head.file for entry in self.shown]
        at = files.index(self._file) if self._file in files else 0
        self.query_one(RowList).set_rows(len(self.shown), self._row_drawer(), at)
        self._show_told()

    def _row_drawer(self) -> Callable[[int, bool, int], Row]:
        shown, today, pen, hidden = self.shown, self.today, self.wiring.pen, self._hidden

        def draw(index: int, chosen: bool, width: int) -> Row:
            entry = shown[index]
            placed = place(COLUMNS, width)
            is_hidden = entry.head.file in hidden
            return entry_row(entry, placed, today, width=width, pen=pen, chosen=chosen, hidden=is_hidden)

        return draw

    def _show_told(self) -> None:
        for name in ("#filters", "#headings", "#detail"):
            self.query_one(name, DrawnPanel).redraw()
        self.query_one(PageTop).say(self._told())

    def _told(self) -> str:
        if not self._listed:
            return "looking for exercises ..."
        due = sum(entry.record is not None and (entry.record.due_day or 10**7) <= self.today.toordinal()
                  for entry in self._all)  # fmt: skip
        broken = sum(bool(entry.wrong) for entry in self._all)
        told = [f"{len(self._all)} exercise{'' if len(self._all) == 1 else 's'}"]
        told += [f"{due} due"] if due else []
        told += [f"{broken} with an error"] if broken else []
        return ", ".join(told)

    def _draw_filters(self, width: int, _: int) -> Panel:
        names = {name: key_name(action(name, "shelf").keys[0]) for name in ("tag", "key", "target", "due")}
        at = self.query_one(RowList).cursor
        return filter_line(self.wanted, len(self.shown), len(self._all), at=max(0, at), width=width, keys=names)

    def _draw_headings(self, width: int, _: int) -> Panel:
        placed = place(COLUMNS, width)
        zones = tuple(
            Zone(0, each.x, each.end, f"order_by('{each.column.name}')")
            for each in placed
            if each.column.name in list(Order)
        )
        return Panel((heading_row(placed, width, self.wanted.order.value),), zones)

    def _draw_detail(self, width: int, height: int) -> Panel:
        entry = self.chosen
        lines = self._lines[1] if entry and self._lines[0] == entry.head.id else ()
        hidden = self._hidden.get(entry.head.file, "") if entry else ""
        pen = self.wiring.pen
        return Panel(detail_rows(entry, lines, self.today, width=width, height=height, pen=pen, hidden=hidden), ())

    def on_row_list_moved(self) -> None:
        """Tell of the exercise the cursor came to."""
        entry = self.chosen
        self._file = entry.head.file if entry else self._file
        for name in ("#filters", "#detail"):
            self.query_one(name, DrawnPanel).redraw()
        self.look_soon()

    # -- what the player does -----------------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        """Find what was typed."""
        self.wanted = replace(self.wanted, words=event.value)
        self.show_wanted()
        self.look_soon()

    def on_input_submitted(self) -> None:
        """Open it."""
        self.action_open()

    def on_row_list_taken(self) -> None:
        """Open it."""
        self.action_open()

    def action_open(self) -> None:
        """Put the chosen exercise on the stand, or say why that cannot be."""
        entry = self.chosen
        if entry is None:
            self.post_message(Tell("There is nothing to open here: show everything again with escape."))
        elif entry.wrong:
            self.post_message(Tell(f"This exercise cannot be opened. {entry.wrong}", grave=True))
        elif entry.head.file in self._hidden:
            other = self._hidden[entry.head.file]
            what = f"{other} has the id {entry.head.id} too, and comes first. Give this file another id to open it."
            self.post_message(Tell(what, grave=True))
        else:
            self.wiring.memory.put(CHOSEN, self._file)
            self.post_message(OpenExercise(entry.head.id))

    async def action_record(self) -> None:
        """Show the chosen exercise in the logbook."""
        entry = self.chosen
        self.wiring.memory.put("logbook exercise", entry.head.id if entry else "")
        await self.run_action("app.page('logbook')")

    def action_cursor_by(self, rows: int) -> None:
        """Move the cursor."""
        self.query_one(RowList).move(rows)

    def action_page_by(self, pages: int) -> None:
        """Move the cursor by windows."""
        self.query_one(RowList).page(pages)

    def narrow(self, wanted: Wanted) -> None:
        """Show something else."""
        anew = wanted.order is not self.wanted.order
        self.wanted = wanted
        if anew:
            self._ordered = ordered(self._all, wanted.order)
        self.show_wanted()
        self.look_soon()

    def action_choose_tag(self) -> None:
        """Ask for a tag."""
        found = tags(self._all)
        self._choose(
            "Show the exercises with the tag", found, self.wanted.tag, lambda tag: replace(self.wanted, tag=tag)
        )

    def action_choose_key(self) -> None:
        """Ask for a key."""
        found = keys(self._all)
        self._choose("Show the exercises in the key", found, self.wanted.key, lambda key: replace(self.wanted, key=key))

    def action_choose_band(self) -> None:
        """Ask for target tempos."""
        counts = [sum(band.low <= e.head.target_bpm < band.high for e in self._all if not e.wrong) for band in BANDS]
        found = tuple((band.title, count) for band, count in zip(BANDS, counts, strict=True))
        by_title = {band.title: band for band in BANDS}
        now = self.wanted.band.title if self.wanted.band else ""
        self._choose(
            "Show the exercises with a target of",
            found,
            now,
            lambda title: replace(self.wanted, band=by_title.get(title)),
        )

    def _choose(
        self, question: str, found: Sequence[tuple[str, int]], now: str, change: Callable[[str], Wanted]
    ) -> None:
        from trainer.screens.asking import Choose

        values = ["", *(value for value, _ in found)]
        names = [f"any ({len(self._all)})", *(f"{value} ({count})" for value, count in found)]

        def take(index: int | None) -> None:
            if index is not None:
                self.narrow(change(values[index]))

        self.app.push_screen(Choose(question, names, values.index(now) if now in values else 0), take)

    def action_choose_order(self) -> None:
        """Ask for an order."""
        from trainer.screens.asking import Choose

        orders = list(Order)

        def take(index: int | None) -> None:
            if index is not None:
                self.action_order_by(orders[index].value)

        names = ["title", "key", "target tempo", "best clean tempo, nearest to its target first",
                 "last played, the newest first", "due, the longest due first"]  # fmt: skip
        self.app.push_screen(Choose("Order the exercises by", names, orders.index(self.wanted.order)), take)

    def action_order_by(self, name: str) -> None:
        """Order by a column."""
        self.narrow(replace(self.wanted, order=Order(name)))

    def action_toggle_due(self) -> None:
        """Just what is due, or everything."""
        self.narrow(replace(self.wanted, due=not self.wanted.due))

    def action_show_all(self) -> None:
        """Leave nothing out."""
        find = self.query_one("#find", Input)
        with self.prevent(Input.Changed):
            find.value = ""
        self.narrow(Wanted(order=self.wanted.order))

    def action_read_again(self) -> None:
        """Look through the folders now, and read files whole again."""
        self._looked.clear()
        self.scan()
        self.look_soon()

    def action_add_folder(self) -> None:
        """Ask for a folder, and keep it in the settings."""
        from trainer.screens.asking import AskLine

        def take(answer: str | None) -> None:
            if answer is not None:
                self.keep_folder(Path(answer.strip()))

        question = "Add a folder with exercises of your own, such as ~/exercises:"
        self.app.push_screen(AskLine(question, self._folder_trouble), take)

    def _folder_trouble(self, answer: str) -> str:
        path = Path(answer.strip()).expanduser()
        if not answer.strip():
            return "Name a folder, or go back with escape."
        if not path.is_absolute():
            return "Name the whole path, from / or from ~ on."
        try:
            return "" if path.is_dir() else "There is no such folder. Name one that exists."
        except OSError as error:
            return f"This folder cannot be read: {error.strerror}."

    @work(thread=True, group="settings")
    def keep_folder(self, folder: Path) -> None:
        """Write it into the settings, and look into it."""
        try:
            new = self.wiring.exercises.add_folder(folder)
        except ProblemsError as error:
            self.post_message(Tell(f"{error.problems[0]}", grave=True))
            return
        told = "is on the shelf from now on" if new else "was on the shelf already"
        self.post_message(Tell(f"{folder} {told}."))
        self.app.call_from_thread(self.scan)
