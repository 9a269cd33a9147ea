"""A widget whose rows are drawn by a function of its size, and whose words can be clicked."""

from collections.abc import Callable, Sequence

from textual import events

from trainer.screens.drawing.ink import Row
from trainer.screens.drawing.zones import Panel
from trainer.screens.widgets.rows import Rows


class DrawnPanel(Rows):
    """Shows what a function draws for its width and height."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._draw_panel: Callable[[int, int], Panel] = lambda width, height: Panel((), ())
        self._shown_panel = Panel((), ())

    def set_source(self, draw: Callable[[int, int], Panel]) -> None:
        """Show what another function draws."""
        self._draw_panel = draw
        self.redraw()

    def drawn(self, width: int, height: int) -> Sequence[Row]:
        """What the function draws."""
        self._shown_panel = self._draw_panel(width, height)
        return self._shown_panel.rows

    async def on_click(self, event: events.Click) -> None:
        """Carry out what the word says."""
        call = self._shown_panel.call_at(event.x, event.y)
        if call:
            event.stop()
            await self.screen.run_action(call)
