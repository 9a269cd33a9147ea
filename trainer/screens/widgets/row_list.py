"""A list of rows with a cursor, of which only those in view are drawn: ten thousand cost no more than ten."""

from collections.abc import Callable, Sequence

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip

from trainer.screens.drawing.ink import CellRow
from trainer.screens.widgets.rows import Rows

DrawRow = Callable[[int, bool, int], CellRow]
"""Draws a row, given its index, whether the cursor is on it, and the width in cells."""


class RowList(Rows):
    """Shows the rows around a cursor."""

    class Moved(Message):
        """The cursor is on another row."""

        def __init__(self, rows: "RowList", index: int) -> None:
            super().__init__()
            self.rows, self.index = rows, index

        @property
        def control(self) -> "RowList":
            """The list."""
            return self.rows

    class Taken(Message):
        """The row under the cursor was clicked."""

        def __init__(self, rows: "RowList", index: int) -> None:
            super().__init__()
            self.rows, self.index = rows, index

        @property
        def control(self) -> "RowList":
            """The list."""
            return self.rows

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._count = 0
        self._cursor = 0
        self._top = 0
        self._draw_row: DrawRow | None = None

    @property
    def cursor(self) -> int:
        """The index of the row under the cursor; -1 in an empty list."""
        return self._cursor if self._count else -1

    @property
    def in_view(self) -> range:
        """The indices of the rows in view."""
        return range(self._top, min(self._count, self._top + max(0, self.size.height)))

    def set_rows(self, count: int, draw: DrawRow, cursor: int = 0) -> None:
        """Show other rows.

        Args:
            count: how many there are.
            draw: draws one of them.
            cursor: where the cursor begins.
        """
        self._count, self._draw_row = count, draw
        self._cursor = min(max(0, cursor), max(0, count - 1))
        self._draw_all()

    def drawn(self, width: int, height: int) -> Sequence[CellRow] | None:
        """Draw the rows in view, the cursor's among them."""
        draw = self._draw_row
        if draw is None:
            return None
        self._top = min(self._top, self._cursor, max(0, self._count - height))
        self._top = max(self._top, self._cursor - height + 1, 0)
        return [draw(index, index == self._cursor, width) for index in self.in_view]

    def move(self, by: int) -> None:
        """Move the cursor down, or up."""
        self.move_to(self._cursor + by)

    def page(self, pages: int) -> None:
        """Move the cursor by windows."""
        self.move(pages * max(1, self.size.height - 1))

    def move_to(self, index: int) -> None:
        """Put the cursor on a row, or on the nearest there is."""
        index = min(max(0, index), max(0, self._count - 1))
        if index != self._cursor:
            self._cursor = index
            self._draw_all()
            self.post_message(self.Moved(self, index))

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Move down by some rows."""
        event.stop()
        self.move(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Move up by some rows."""
        event.stop()
        self.move(-3)

    def on_click(self, event: events.Click) -> None:
        """Put the cursor there; a click on the cursor's own row takes it."""
        index = self._top + event.y
        if index >= self._count:
            return
        event.stop()
        if index == self._cursor and (event.chain > 1 or event.button == 1):
            self.post_message(self.Taken(self, index))
        else:
            self.move_to(index)

    def render_line(self, y: int) -> Strip:
        """Draw one line; the cursor's stands out."""
        strip = super().render_line(y)
        if self._count and y == self._cursor - self._top:
            style = self.ink_style("cursor")
            over = Style(bgcolor=style.bgcolor, bold=style.bold, underline=style.underline, reverse=style.reverse)
            return Strip(list(Segment.apply_style(strip, post_style=over)), strip.cell_length)
        return strip

    def _draw_all(self) -> None:
        before = self._cursor - self._top
        self.redraw()
        for y in {before, self._cursor - self._top}:
            if 0 <= y < self.size.height:
                self.refresh_line(y)

    def refresh_line(self, y: int) -> None:
        """Redraw a whole line, because the cursor came or went."""
        self.refresh(Region(0, y, self.size.width, 1))
