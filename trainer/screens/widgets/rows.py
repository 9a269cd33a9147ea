"""A widget that shows drawn rows, and redraws only the cells that changed."""

from collections.abc import Sequence

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import PARTS, Row
from trainer.screens.widgets.ink_looks import ink_look

INK_CLASSES = {
    ink.PLAIN: "plain", ink.LINE: "line", ink.BAR: "bar", ink.COUNT: "count", ink.FINE: "fine", ink.MARK: "mark",
    ink.LABEL: "label", ink.INTERVAL: "interval", ink.CHORD: "chord", ink.QUIET: "quiet", ink.STRONG: "strong",
    ink.HEAD: "heading", **{letter: f"part-{letter.lower()}" for letter in PARTS},
}  # fmt: skip
"""For each ink its name in `ink_looks.LOOKS`."""


class Rows(Widget):
    """Lines of cells in inks. Give it rows with `show`, or draw them for its size in `drawn`."""

    can_focus = False

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.rows: tuple[Row, ...] = ()
        self._drawn_size: Size | None = None
        self._ink_strips: dict[tuple[Row, int], Strip] = {}

    def show(self, rows: Sequence[Row]) -> None:
        """Show these lines from the top; only what differs from before is drawn."""
        before, self.rows = self.rows, tuple(rows)
        if len(before) != len(self.rows):
            self.refresh()
            return
        for y, (old, new) in enumerate(zip(before, self.rows, strict=True)):
            if old is not new and old != new:
                self.refresh(_difference(old, new, y))

    def drawn(self, width: int, height: int) -> Sequence[Row] | None:
        """The rows for a size in cells, for a widget that draws them; None for one that is given rows."""
        return None

    def redraw(self) -> None:
        """Draw anew, because what is told of has changed; what has no size yet is drawn when it has one."""
        width, height = self.size
        if width > 0 and height > 0 and (rows := self.drawn(width, height)) is not None:
            self._drawn_size = self.size
            self.show(rows)

    def on_resize(self) -> None:
        """Draw for another size."""
        if self._drawn_size != self.size:
            self.redraw()

    def notify_style_update(self) -> None:
        """Forget what was drawn in other colours."""
        self._ink_strips.clear()
        super().notify_style_update()

    def ink_style(self, name: str) -> Style:
        """The style of an ink in the theme that is shown, by its name in `ink_looks.LOOKS`."""
        return ink_look(self.app.theme, name)

    def strip_of(self, row: Row, width: int) -> Strip:
        """A row as Textual draws it, as wide as the widget."""
        key = row, width
        strip = self._ink_strips.get(key)
        if strip is None:
            segments = [Segment(text, self.ink_style(INK_CLASSES[kind])) for text, kind in row.runs()]
            strip = Strip(segments).adjust_cell_length(width, self.ink_style("plain"))
            if len(self._ink_strips) > 2000:
                self._ink_strips.clear()
            self._ink_strips[key] = strip
        return strip

    def render_line(self, y: int) -> Strip:
        """One line."""
        width = self.size.width
        if self._drawn_size != self.size and (rows := self.drawn(*self.size)) is not None:
            self._drawn_size, self.rows = self.size, tuple(rows)  # the first picture is whole: no second one follows
        if y < len(self.rows):
            return self.strip_of(self.rows[y], width)
        return Strip.blank(width, self.ink_style("plain"))


def _difference(old: Row, new: Row, y: int) -> Region:
    """The cells of a line that changed."""
    wide = max(len(old.chars), len(new.chars))
    if len(old.chars) != len(new.chars):
        return Region(0, y, wide, 1)
    changed = [x for x in range(wide) if old.chars[x] != new.chars[x] or old.inks[x] != new.inks[x]]
    first, last = (changed[0], changed[-1]) if changed else (0, 0)
    return Region(max(0, first - 1), y, last - max(0, first - 1) + 2, 1)
