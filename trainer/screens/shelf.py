"""The shelf: every exercise, found by typing and by filters. Files are read again as they change."""

from collections.abc import Callable

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Input

from trainer.screens.actions import action, key_name
from trainer.screens.bindings import bindings_for
from trainer.screens.drawing import ink
from trainer.screens.drawing.hint_order import hinted
from trainer.screens.drawing.ink import Row, plain_row
from trainer.screens.drawing.shelf_rows import COLUMNS, detail_rows, entry_row, filter_line
from trainer.screens.drawing.table_row import heading_row, place
from trainer.screens.drawing.zones import Panel, Zone
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.shelf_entries import Order, Wanted
from trainer.screens.shelf_reading import ReadsShelf
from trainer.screens.widgets.drawn_panel import DrawnPanel
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.page_top import PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import Rows
from trainer.screens.wiring import Wiring

LOW = 16
"""Lines of a window from which on the chosen exercise is told of at all."""
WIDE = 120
"""Cells of a window from which on the chosen exercise is told of beside the list, and not below it."""
CHOSEN = "shelf exercise"
"""Where the memory keeps the file under the cursor."""


class ShelfScreen(ReadsShelf):
    """Every exercise the player has."""

    BINDINGS = bindings_for("shelf")
    AUTO_FOCUS = "#find"
    page = "shelf"

    def __init__(self, wiring: Wiring) -> None:
        """Show at once what the index remembers.

        Args:
            wiring: everything from outside.
        """
        super().__init__(wiring)
        self._file = str(wiring.memory.get(CHOSEN) or "")
        seen = wiring.exercises.glimpse(self._file)
        if seen is not None:
            self.contents.glimpse(seen, self.today.toordinal())

    # -- composing ----------------------------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        """The line to type in, the filters, the list, and what there is to say of the chosen exercise."""
        self._fit(update=False)  # before there is anything in it that had to be styled again
        yield PageTop("shelf", self.wiring.pen, id="title")
        yield HintsView(id="hints")
        with Horizontal(id="finding"):
            yield Rows(id="label")
            find = Input(
                self.wanted.words, id="find", placeholder="type some of a title, a tag, a key, a riff", compact=True
            )
            find.cursor_blink = False
            yield find
        yield DrawnPanel(id="filters")
        with Horizontal(id="between"):
            with Vertical(id="left"):
                yield DrawnPanel(id="headings")
                yield RowList(id="list")
            yield DrawnPanel(id="detail")

    def on_mount(self) -> None:
        """Show what is known, and look for exercises at once."""
        pen = self.wiring.pen
        self.query_one(HintsView).set_actions(hinted(self.page), pen)
        self.query_one("#label", Rows).show([plain_row(" find", 6, ink.LABEL)])
        self.query_one("#filters", DrawnPanel).set_source(self._draw_filters)
        self.query_one("#headings", DrawnPanel).set_source(self._draw_headings)
        self.query_one("#detail", DrawnPanel).set_source(self._draw_detail)
        self.show_wanted()
        self.call_after_refresh(self.scan)

    def on_resize(self) -> None:
        """Another layout, perhaps."""
        self._fit()

    def _fit(self, update: bool = True) -> None:
        """The chosen exercise is told of beside the list, or below it."""
        width, height = self.app.size
        self.set_class(width >= WIDE, "wide", update=update)
        self.set_class(height < LOW, "low", update=update)

    def on_screen_resume(self) -> None:
        """Something may have been practised, or written, meanwhile."""
        if self.contents.looked_through:
            self.scan()

    def on_screen_suspend(self) -> None:
        """Remember what was looked for, and where the cursor was."""
        self._keep()

    def on_unmount(self) -> None:
        """The same at leaving."""
        self._keep()

    def _keep(self) -> None:
        if self._file:
            self.wiring.memory.put(CHOSEN, self._file)
        self.keep_wanted()

    # -- showing ------------------------------------------------------------------------------------------------

    def show_wanted(self) -> None:
        """List what is wanted, with the cursor on the exercise it was on."""
        if self.contents.listed:
            self.query_one(RowList).set_rows(len(self.shown), self._row_drawer(), self.contents.place_of(self._file))
        self._show_told()

    def _row_drawer(self) -> Callable[[int, bool, int], Row]:
        shown, today, pen, contents = self.shown, self.today, self.wiring.pen, self.contents
        hidden, recorded = contents.hidden, contents.recorded

        def draw(index: int, chosen: bool, width: int) -> Row:
            entry = shown[index]
            placed = place(COLUMNS, width)
            is_hidden = entry.head.file in hidden
            return entry_row(
                entry, placed, today, width=width, pen=pen, chosen=chosen, hidden=is_hidden, recorded=recorded
            )

        return draw

    def _show_told(self) -> None:
        for name in ("#filters", "#headings", "#detail"):
            self.query_one(name, DrawnPanel).redraw()
        self.query_one(PageTop).say(self._told())

    def _told(self) -> str:
        contents = self.contents
        if not contents.listed:
            return "looking for exercises ..."
        count, due = contents.count, contents.due(self.today.toordinal())
        broken = sum(bool(entry.wrong) for entry in contents.all)
        told = [f"{count} exercise{'' if count == 1 else 's'}"]
        if not self.wanted.everything:
            told += [f"{len(self.shown)} shown, {key_name(action('everything', 'shelf').keys[0])} shows all"]
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
            if each.column.name in list(Order)
        )
        return Panel((heading_row(placed, width, self.wanted.order.value),), zones)

    def _draw_detail(self, width: int, height: int) -> Panel:
        entry = self.chosen
        lines = self._lines[1] if entry and self._lines[0] == entry.head.id else ()
        hidden = self.contents.hidden.get(entry.head.file, "") if entry else ""
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
        self.narrow(self.wanted._replace(words=event.value))

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
        self.contents.want(wanted, self.today.toordinal())
        self.show_wanted()
        self.look_soon()

    def action_read_again(self) -> None:
        """Look through the folders now, and read files whole again."""
        self.contents.look_again()
        self.scan()
        self.look_soon()
