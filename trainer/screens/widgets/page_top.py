"""The line on top of a screen."""

from trainer.screens.actions import APPLICATION, key_name
from trainer.screens.drawing.page_line import PageName, page_line
from trainer.screens.drawing.pen import Pen
from trainer.screens.pages import PAGES
from trainer.screens.widgets.drawn_panel import DrawnPanel


class PageTop(DrawnPanel):
    """A screen's name, what there is to say of it, and the other screens."""

    def __init__(self, page: str, pen: Pen, *, id: str | None = None) -> None:
        super().__init__(id=id)
        keys = {each.name: key_name(each.keys[0], pen.block == "█") for each in APPLICATION}
        names = [PageName(name, found.title, keys[name]) for name, found in PAGES.items() if name in keys]
        self._said = ""
        self._draw_panel = lambda width, _: page_line(page, names, self._said, width)

    def say(self, told: str) -> None:
        """Say something else of the screen."""
        self._said = told
        self.redraw()
