"""Widgets that show drawn rows: those they are given, those drawn for their size, and text longer than the window.

Only cells that changed are drawn again.
"""

from collections.abc import Callable, Sequence

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from trainer.music.letters import PARTS
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, Panel
from trainer.screens.themes import ink_look

INK_NAMES = {
    ink.PLAIN: "plain", ink.LINE: "line", ink.BAR: "bar", ink.COUNT: "count", ink.FINE: "fine", ink.MARK: "mark",
    ink.LABEL: "label", ink.INTERVAL: "interval", ink.CHORD: "chord", ink.QUIET: "quiet", ink.STRONG: "strong",
    ink.HEAD: "heading", **{letter: f"part-{letter.lower()}" for letter in PARTS},
}  # fmt: skip
"""For each ink its name in `themes.LOOKS`."""


class Rows(Widget):
    """Shows drawn rows. Give it rows with `show`, or override `drawn` to draw them for its size."""

    can_focus = False

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.rows: tuple[CellRow, ...] = ()
        self._drawn_size: Size | None = None
        self._ink_strips: dict[tuple[CellRow, int], Strip] = {}

    def show(self, rows: Sequence[CellRow]) -> None:
        """Show these rows from the top; only cells that differ from before are redrawn."""
        before, self.rows = self.rows, tuple(rows)
        if len(before) != len(self.rows):
            self.refresh()
            return
        for y, (old, new) in enumerate(zip(before, self.rows, strict=True)):
            if old is not new and old != new:
                self.refresh(_difference(old, new, y))

    def drawn(self, width: int, height: int) -> Sequence[CellRow] | None:
        """Draw the rows for a size in cells; None in a widget that is given its rows by `show`."""
        return None

    def redraw(self) -> None:
        """Draw again because the contents changed; a widget without a size yet is drawn when it has one."""
        width, height = self.size
        if width > 0 and height > 0 and (rows := self.drawn(width, height)) is not None:
            self._drawn_size = self.size
            self.show(rows)

    def on_resize(self) -> None:
        """Draw for the new size."""
        if self._drawn_size != self.size:
            self.redraw()

    def notify_style_update(self) -> None:
        """Forget what was drawn in other colours."""
        self._ink_strips.clear()
        super().notify_style_update()

    def ink_style(self, name: str) -> Style:
        """The style of an ink in the current theme, by its name in `themes.LOOKS`."""
        return ink_look(self.app.theme, name)

    def strip_of(self, row: CellRow, width: int) -> Strip:
        """Turn a row into Textual's strip, as wide as the widget."""
        key = row, width
        strip = self._ink_strips.get(key)
        if strip is None:
            segments = [Segment(text, self.ink_style(INK_NAMES[kind])) for text, kind in row.runs()]
            strip = Strip(segments).adjust_cell_length(width, self.ink_style("plain"))
            if len(self._ink_strips) > 2000:
                self._ink_strips.clear()
            self._ink_strips[key] = strip
        return strip

    def render_line(self, y: int) -> Strip:
        """Draw one line."""
        width = self.size.width
        if self._drawn_size != self.size and (rows := self.drawn(*self.size)) is not None:
            self._drawn_size, self.rows = self.size, tuple(rows)  # the first picture is whole: no second one follows
        if y < len(self.rows):
            return self.strip_of(self.rows[y], width)
        return Strip.blank(width, self.ink_style("plain"))


def _difference(old: CellRow, new: CellRow, y: int) -> Region:
    """The cells in which two versions of a line differ."""
    wide = max(len(old.chars), len(new.chars))
    if len(old.chars) != len(new.chars):
        return Region(0, y, wide, 1)
    changed = [x for x in range(wide) if old.chars[x] != new.chars[x] or old.inks[x] != new.inks[x]]
    first, last = (changed[0], changed[-1]) if changed else (0, 0)
    return Region(max(0, first - 1), y, last - max(0, first - 1) + 2, 1)


class DrawnPanel(Rows):
    """Shows what a function draws for the widget's width and height; words in it can be clicked."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._draw_panel: Callable[[int, int], Panel] = lambda width, height: Panel((), ())
        self._shown_panel = Panel((), ())

    def set_source(self, draw: Callable[[int, int], Panel]) -> None:
        """Show what this function draws from now on."""
        self._draw_panel = draw
        self.redraw()

    def drawn(self, width: int, height: int) -> Sequence[CellRow]:
        """Draw by the function."""
        self._shown_panel = self._draw_panel(width, height)
        return self._shown_panel.rows

    async def on_click(self, event: events.Click) -> None:
        """Carry out the action of the word that was clicked."""
        call = self._shown_panel.call_at(event.x, event.y)
        if call:
            event.stop()
            await self.screen.run_action(call)


class ScrolledRows(Rows):
    """Shows part of the rows that a function draws for the widget's width, and scrolls through them."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._draw_rows: Callable[[int], Sequence[CellRow]] = lambda _: ()
        self._all_rows: tuple[CellRow, ...] = ()
        self._top_row = 0

    @property
    def top(self) -> int:
        """The first row in view, counted from 0."""
        return self._top_row

    @property
    def bottom(self) -> int:
        """The first row in view when scrolled to the end."""
        return max(0, len(self._all_rows) - self.size.height)

    def set_source(self, draw: Callable[[int], Sequence[CellRow]], *, keep: bool = False) -> None:
        """Show other rows from the top, or with `keep` as far down as before."""
        self._draw_rows, self._top_row = draw, self._top_row if keep else 0
        self._draw_all()

    def scroll_rows(self, rows: int) -> None:
        """Scroll down, or up with a negative number."""
        self._top_row = min(max(0, self._top_row + rows), self.bottom)
        self.show(self._all_rows[self._top_row : self._top_row + self.size.height])

    def on_resize(self) -> None:
        """Draw for the new width."""
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
