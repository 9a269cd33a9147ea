"""The lines around a screen: its name and the other screens on top, the keys at the foot."""

from collections.abc import Sequence

from textual.signal import Signal

from trainer.screens.actions import APPLICATION, Action, key_name, last_hints
from trainer.screens.drawing.page_lines import PageName, draw_hints, page_line
from trainer.screens.drawing.pen import Pen
from trainer.screens.pages import PAGES
from trainer.screens.widgets.rows import DrawnPanel


class PageTop(DrawnPanel):
    """A screen's name, a summary of it, and the other screens to click on."""

    def __init__(self, page: str, pen: Pen, *, id: str | None = None) -> None:
        super().__init__(id=id)
        keys = {each.name: key_name(each.keys[0], pen.unicode) for each in APPLICATION}
        names = [PageName(name, found.title, keys[name]) for name, found in PAGES.items() if name in keys]
        self._said = self._playing = ""
        self._draw_panel = lambda width, _: page_line(page, names, self._said, self._playing, width)

    def on_mount(self) -> None:
        """Follow what is played on the stand."""
        signal: Signal[str] | None = getattr(self.app, "playing_signal", None)
        if signal is not None:
            self._playing = getattr(self.app, "playing", "")
            signal.subscribe(self, self._play)

    def _play(self, told: str) -> None:
        self._playing = told
        self.redraw()

    def say(self, told: str) -> None:
        """Change the summary."""
        self._said = told
        self.redraw()


class HintsView(DrawnPanel):
    """Shows keys with what they do; a click carries one out."""

    def __init__(self, page: str, pen: Pen, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._page, self._pen = page, pen
        self._actions: tuple[Action, ...] = ()

    def set_actions(self, actions: Sequence[Action]) -> None:
        """Show the keys of other actions, as many as there is room for, and those of help and of the way back."""
        actions = tuple(actions)
        if actions != self._actions:
            self._actions = actions
            last, unicode = last_hints(self._page), self._pen.unicode
            self.set_source(lambda width, _: draw_hints(actions, last, width, unicode))
