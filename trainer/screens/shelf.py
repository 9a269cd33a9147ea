"""The shelf: every exercise, found by typing and by filters. Files are read again as they change."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.timer import Timer
from textual.widgets import Input

from trainer.music.problem import ProblemsError
from trainer.practice.days import practice_day
from trainer.screens.actions import action, bindings_for, hinted, key_name
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, Panel, Zone, plain_row
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.shelf_rows import COLUMNS, detail_rows, entry_row, filter_line
from trainer.screens.drawing.tables import heading_row, place
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.shelf_contents import BANDS, Entry, ShelfContents, ShelfOrder, ShelfSearch, keys, tags
from trainer.screens.shelf_reading import AGAIN_SECONDS, LOOK_SECONDS, ShelfReader
from trainer.screens.widgets.find_line import FindLine
from trainer.screens.widgets.page_lines import HintsView, PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import DrawnPanel, Rows
from trainer.session.machine import Machine
from trainer.session.memory import LOGBOOK_EXERCISE, SHELF_EXERCISE, SHELF_SEARCH

if TYPE_CHECKING:
    from trainer.practice.reading import LineRecord

LOW = 16
"""Lines of a window from which on the chosen exercise is described at all."""
WIDE = 120
"""Cells of a window from which on the chosen exercise is described beside the list instead of below it."""
ORDERS = {
    ShelfOrder.TITLE: "title",
    ShelfOrder.KEY: "key",
    ShelfOrder.TARGET: "target tempo",
    ShelfOrder.BEST: "best clean tempo, nearest to its target first",
    ShelfOrder.LAST: "last played, the newest first",
    ShelfOrder.DUE: "due, the longest due first",
}
"""The orders as the player is asked."""


class ShelfScreen(Screen[None]):
    """Every exercise the player has."""

    BINDINGS = bindings_for("shelf")
    AUTO_FOCUS = "#find"
    page = "shelf"

    def __init__(self, machine: Machine, pen: Pen) -> None:
        """Show at once what the index remembers, searched as it was last.

        Args:
            machine: what the screens work with.
            pen: the characters to draw with.
        """
        super().__init__()
        self.machine, self.pen = machine, pen
        self.contents = ShelfContents(ShelfSearch.from_dict(machine.memory.get(SHELF_SEARCH)))
        self._reader = ShelfReader(self, machine)
        self._lines: tuple[str, tuple[LineRecord, ...]] = ("", ())
        """The last exercise whose lines were read, by id, and these."""
        self._look: Timer | None = None
        self._file = machine.memory.get(SHELF_EXERCISE)
        seen = machine.exercises.glimpse(self._file)
        if seen is not None:
            self.contents.glimpse(seen, self.today.toordinal())

    @property
    def today(self) -> date:
        """The day of practice."""
        return practice_day(self.machine.now())

    @property
    def wanted(self) -> ShelfSearch:
        """The search."""
        return self.contents.wanted

    @property
    def shown(self) -> tuple[Entry, ...]:
        """The exercises that are listed."""
        return self.contents.shown

    @property
    def chosen(self) -> Entry | None:
        """The exercise under the cursor."""
        at = self.query_one(RowList).cursor
        return self.shown[at] if 0 <= at < len(self.shown) else None

    # -- composing ----------------------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        """The line to type in, the filters, the list, and a description of the chosen exercise."""
        self._fit(update=False)  # before there is anything in it that had to be styled again
        yield PageTop("shelf", self.pen, id="title")
        yield HintsView(self.page, self.pen, id="hints")
        with Horizontal(id="finding"):
            yield Rows(id="label")
            words, placeholder = self.wanted.words, "type some of a title, a tag, a key, a riff"
            yield FindLine(words, id="find", placeholder=placeholder, compact=True)
        yield DrawnPanel(id="filters")
        with Horizontal(id="between"):
            with Vertical(id="left"):
                yield DrawnPanel(id="headings")
                yield RowList(id="list")
            yield DrawnPanel(id="detail")

    def on_mount(self) -> None:
        """Show what is known, and look for exercises at once."""
        self.query_one(HintsView).set_actions(hinted(self.page))
        self.query_one("#label", Rows).show([plain_row(" find", 6, ink.LABEL)])
        self.query_one("#filters", DrawnPanel).set_source(self._draw_filters)
        self.query_one("#headings", DrawnPanel).set_source(self._draw_headings)
        self.query_one("#detail", DrawnPanel).set_source(self._draw_detail)
        self.show_wanted()
        self.call_after_refresh(self.scan)

    def on_resize(self) -> None:
        """Change the layout if need be."""
        self._fit()

    def _fit(self, update: bool = True) -> None:
        """Describe the chosen exercise beside the list, or below it."""
        width, height = self.app.size
        self.set_class(width >= WIDE, "wide", update=update)
        self.set_class(height < LOW, "low", update=update)

    def on_screen_resume(self) -> None:
        """Look again: something may have been practised, or written, meanwhile."""
        if self.contents.looked_through:
            self.scan()

    def on_screen_suspend(self) -> None:
        """Remember the search, and where the cursor was."""
        self._keep()

    def on_unmount(self) -> None:
        """Remember the same when the program ends."""
        self._keep()

    def _keep(self) -> None:
        if self._file:
            self.machine.memory.put(SHELF_EXERCISE, self._file)
        self._keep_search()

    def _keep_search(self) -> None:
        search = self.wanted.as_dict()
        if search or self.machine.memory.get(SHELF_SEARCH):
            self.machine.memory.put(SHELF_SEARCH, search)

    # -- showing ------------------------------------------------------------------------------------------------

    def show_wanted(self) -> None:
        """List what matches the search, with the cursor on the exercise it was on."""
        if self.contents.listed:
            self.query_one(RowList).set_rows(len(self.shown), self._row_drawer(), self.contents.place_of(self._file))
        self._show_words()

    def _row_drawer(self) -> Callable[[int, bool, int], CellRow]:
        shown, today, pen, contents = self.shown, self.today, self.pen, self.contents
        hidden, recorded = contents.hidden, contents.recorded

        def draw(index: int, chosen: bool, width: int) -> CellRow:
            entry = shown[index]
            placed = place(COLUMNS, width)
            is_hidden = entry.head.file in hidden
            return entry_row(
                entry, placed, today, width=width, pen=pen, chosen=chosen, hidden=is_hidden, recorded=recorded
            )

        return draw

    def _show_words(self) -> None:
        for name in ("#filters", "#headings", "#detail"):
            self.query_one(name, DrawnPanel).redraw()
        self.query_one(PageTop).say(self._summary())

    def _summary(self) -> str:
        contents = self.contents
        if not contents.listed:
            return "looking for exercises ..."
        count, due = contents.count, contents.due(self.today.toordinal())
        broken = sum(bool(entry.wrong) for entry in contents.all)
        told = [f"{count} exercise{'' if count == 1 else 's'}"]
        if not self.wanted.everything:
            told += [f"{len(self.shown)} shown, {key_name(action('everything', 'shelf').keys[0])} shows all"]
        told += [f"{contents.to_do} from your teacher"] if contents.to_do else []
        told += [f"{due} due"] if due else []
        told += [f"{broken} with an error"] if broken else []
        return ", ".join(told)

    def _draw_filters(self, width: int, _: int) -> Panel:
        names = {name: key_name(action(name, "shelf").keys[0]) for name in ("tag", "key", "target", "due")}
        at, contents = self.query_one(RowList).cursor, self.contents
        shown = len(contents.shown) if contents.looked_through or not self.wanted.everything else contents.count
        at = contents.before + max(0, at)
        return filter_line(self.wanted, shown, contents.count, at=at, width=width, keys=names)

    def _draw_headings(self, width: int, _: int) -> Panel:
        placed = place(COLUMNS, width)
        zones = tuple(
            Zone(0, each.x, each.end, f"order_by('{each.column.name}')")
            for each in placed
            if each.column.name in list(ShelfOrder)
        )
        return Panel((heading_row(placed, width, self.wanted.order.value),), zones)

    def _draw_detail(self, width: int, height: int) -> Panel:
        entry = self.chosen
        lines = self._lines[1] if entry and self._lines[0] == entry.head.id else ()
        hidden = self.contents.hidden.get(entry.head.file, "") if entry else ""
        rows = detail_rows(entry, lines, self.today, width=width, height=height, pen=self.pen, hidden=hidden)
        return Panel(rows, ())

    def on_row_list_moved(self) -> None:
        """Describe the exercise the cursor came to."""
        entry = self.chosen
        self._file = entry.head.file if entry else self._file
        for name in ("#filters", "#detail"):
            self.query_one(name, DrawnPanel).redraw()
        self.look_soon()

    # -- reading in the background ------------------------------------------------------------------------------

    def scan(self) -> None:
        """Look through the log and the folders without holding up the screen."""
        self._reader.scan(records_first=not self.contents.recorded)

    def _scan_again(self) -> None:
        if self.is_current:
            self.scan()

    def on_shelf_reader_recorded(self, message: ShelfReader.Recorded) -> None:
        """Show what was practised beside what the index remembers."""
        if self.contents.record(message.records, message.asked, self.today.toordinal()):
            self.show_wanted()

    def on_shelf_reader_files_listed(self, message: ShelfReader.FilesListed) -> None:
        """Show what changed, and look again after a while."""
        self.set_timer(max(AGAIN_SECONDS, 30 * message.seconds), self._scan_again)
        if self.contents.take(message.heads, message.records, message.asked, self.today.toordinal()):
            self.show_wanted()
            self.look_soon()

    def look_soon(self) -> None:
        """Read the files in view whole, once the player pauses."""
        if self._look is not None:
            self._look.stop()
        self._look = self.set_timer(LOOK_SECONDS, self._look_now)

    def _look_now(self) -> None:
        in_view = [self.shown[index].head for index in self.query_one(RowList).in_view if index < len(self.shown)]
        unread = [head for head in in_view if not head.problem and not self.contents.is_read(head)]
        chosen = self.chosen
        self._reader.look_into(unread, chosen.head.id if chosen else "")
        self._keep_search()

    def on_shelf_reader_checked(self, message: ShelfReader.Checked) -> None:
        """Show what is wrong with a file."""
        if self.contents.check(message.file, message.reading, self.today.toordinal()):
            self.show_wanted()

    def on_shelf_reader_lines_read(self, message: ShelfReader.LinesRead) -> None:
        """Describe the parts of the chosen exercise."""
        self._lines = (message.exercise, message.lines)
        self.query_one("#detail", DrawnPanel).redraw()

    # -- choosing -----------------------------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        """Search for what was typed."""
        self.search(self.wanted._replace(words=event.value))

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
        elif entry.head.file in self.contents.hidden:
            other = self.contents.hidden[entry.head.file]
            what = f"{other} has the id {entry.head.id} too, and comes first. Give this file another id to open it."
            self.post_message(Tell(what, grave=True))
        else:
            self._keep()
            self.post_message(OpenExercise(entry.head.id))

    async def action_record(self) -> None:
        """Show the chosen exercise in the logbook."""
        entry = self.chosen
        self.machine.memory.put(LOGBOOK_EXERCISE, entry.head.id if entry else "")
        await self.run_action("app.page('logbook')")

    def action_cursor_by(self, rows: int) -> None:
        """Move the cursor."""
        self.query_one(RowList).move(rows)

    def action_page_by(self, pages: int) -> None:
        """Move the cursor by windows."""
        self.query_one(RowList).page(pages)

    def action_read_again(self) -> None:
        """Look through the folders now, and read files whole again."""
        self.contents.read_again()
        self.scan()
        self.look_soon()

    # -- finding ------------------------------------------------------------------------------------------------

    def search(self, wanted: ShelfSearch) -> None:
        """Show what matches another search."""
        self.contents.search(wanted, self.today.toordinal())
        self.show_wanted()
        self.look_soon()

    def action_choose_tag(self) -> None:
        """Ask for a tag."""
        question, found = "Show the exercises with the tag", tags(self.contents.all)
        self._ask_filter(question, found, self.wanted.tag, lambda tag: self.wanted._replace(tag=tag))

    def action_choose_key(self) -> None:
        """Ask for a key."""
        question, found = "Show the exercises in the key", keys(self.contents.all)
        self._ask_filter(question, found, self.wanted.key, lambda key: self.wanted._replace(key=key))

    def action_choose_band(self) -> None:
        """Ask for a range of target tempos."""
        sound = [entry.head.target_bpm for entry in self.contents.all if not entry.wrong]
        found = tuple((band.title, sum(band.low <= bpm < band.high for bpm in sound)) for band in BANDS)
        by_title = {band.title: band for band in BANDS}
        now = self.wanted.band.title if self.wanted.band else ""
        self._ask_filter(
            "Show the exercises with a target of",
            found,
            now,
            lambda title: self.wanted._replace(band=by_title.get(title)),
        )

    def _ask_filter(
        self, question: str, found: Sequence[tuple[str, int]], now: str, change: Callable[[str], ShelfSearch]
    ) -> None:
        """Ask for one of the values that were found, each with its count, or for any."""
        from trainer.screens.asking import Choose

        values = ["", *(value for value, _ in found)]
        names = [f"any ({len(self.contents.all)})", *(f"{value} ({count})" for value, count in found)]

        def take(index: int | None) -> None:
            if index is not None:
                self.search(change(values[index]))

        self.app.push_screen(Choose(question, names, values.index(now) if now in values else 0), take)

    def action_choose_order(self) -> None:
        """Ask for an order."""
        from trainer.screens.asking import Choose

        orders = list(ORDERS)

        def take(index: int | None) -> None:
            if index is not None:
                self.action_order_by(orders[index].value)

        question = "Order the exercises by"
        self.app.push_screen(Choose(question, [*ORDERS.values()], orders.index(self.wanted.order)), take)

    def action_order_by(self, name: str) -> None:
        """Order by a column."""
        self.search(self.wanted._replace(order=ShelfOrder(name)))

    def action_toggle_due(self) -> None:
        """Show only what is due, or everything."""
        self.search(self.wanted._replace(due=not self.wanted.due))

    def action_show_all(self) -> None:
        """Leave nothing out."""
        find = self.query_one("#find", Input)
        with self.prevent(Input.Changed):
            find.value = ""
        self.search(ShelfSearch(order=self.wanted.order))

    # -- files --------------------------------------------------------------------------------------------------

    def action_edit(self) -> None:
        """Open the chosen exercise's file in the player's editor."""
        entry = self.chosen
        if entry is None:
            self.post_message(Tell("There is nothing to edit here: show everything again with escape."))
        else:
            self._edit(Path(entry.head.file))

    def action_new_exercise(self) -> None:
        """Ask for a title, write a file with its counts laid out, and open it in the player's editor."""
        from trainer.screens.asking import AskLine
        from trainer.screens.own_files import begin, id_of
        from trainer.screens.typed import trouble

        def made(title: str | None) -> None:
            if title is None:
                return
            try:
                path = begin(title)
            except (ProblemsError, ValueError) as error:
                self.post_message(Tell(str(error), grave=True))
                return
            self.post_message(Tell(f"{path} is written."))
            self._edit(path)

        self.app.push_screen(AskLine("The new exercise's title, such as Grey Mole:", trouble(id_of)), made)

    def _edit(self, path: Path) -> None:
        from trainer.screens.own_files import OwnFiles

        def tell(sentence: str) -> None:
            self.post_message(Tell(sentence))

        self._file = str(OwnFiles(self.app, self.machine.own_file, tell).edit(path))
        self.action_read_again()

    # -- folders ------------------------------------------------------------------------------------------------

    def action_add_folder(self) -> None:
        """Ask for a folder, and keep it in the settings."""
        from trainer.screens.asking import AskLine
        from trainer.screens.typed import trouble, typed_folder

        def take(answer: str | None) -> None:
            if answer is not None:
                self._add_folder(Path(answer.strip()))

        question = "Add a folder with exercises of your own, such as ~/exercises:"
        self.app.push_screen(AskLine(question, trouble(typed_folder)), take)

    @work(thread=True, group="settings")
    def _add_folder(self, folder: Path) -> None:
        try:
            new = self.machine.exercises.add_folder(folder)
        except ProblemsError as error:
            self.post_message(Tell(f"{error.problems[0]}", grave=True))
            return
        told = "is on the shelf from now on" if new else "was on the shelf already"
        self.post_message(Tell(f"{folder} {told}."))
        self.app.call_from_thread(self.scan)
