"""Rows that are longer than the window: a text, a list of keys."""

from collections.abc import Callable, Sequence

from textual import events

from trainer.screens.drawing.ink import Row
from trainer.screens.widgets.rows import Rows


class ScrolledRows(Rows):
    """Shows some of the rows that a function draws for its width."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._draw_rows: Callable[[int], Sequence[Row]] = lambda _: ()
        self._all_rows: tuple[Row, ...] = ()
        self._top_row = 0

    @property
    def top(self) -> int:
        """The first row in view, counted from 0."""
        return self._top_row

    @property
    def bottom(self) -> int:
        """The first row that can be on top when the last one is in view."""
        return max(0, len(self._all_rows) - self.size.height)

    def set_source(self, draw: Callable[[int], Sequence[Row]], *, keep: bool = False) -> None:
        """Show something else, from its beginning, or as far down as before."""
        self._draw_rows, self._top_row = draw, self._top_row if keep else 0
        self._draw_all()

    def scroll_rows(self, rows: int) -> None:
        """Scroll down, or up with a negative number."""
        self._top_row = min(max(0, self._top_row + rows), self.bottom)
        self.show(self._all_rows[self._top_row : self._top_row + self.size.height])

    def on_resize(self) -> None:
        """Draw for another width."""
        self._draw_all()

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Scroll down."""
        event.stop()
        self.scroll_rows(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Scroll up."""
        event.stop()
        self.scroll_rows(-3)

    def _draw_all(self) -> None:
        if self.size.width > 2:
            self._all_rows = tuple(self._draw_rows(self.size.width))
            self.scroll_rows(0)
