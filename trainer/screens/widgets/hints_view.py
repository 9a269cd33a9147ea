"""The line of keys at the foot of a screen."""

from collections.abc import Sequence

from textual import events

from trainer.screens.actions import Action
from trainer.screens.drawing.hints import draw_hints
from trainer.screens.drawing.ink import Row
from trainer.screens.drawing.pen import BOX, Pen
from trainer.screens.drawing.zones import Panel
from trainer.screens.widgets.rows import Rows


class HintsView(Rows):
    """Shows keys; a click carries one out."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._actions: tuple[Action, ...] = ()
        self._pen = BOX
        self._hints = Panel((), ())

    def set_actions(self, actions: Sequence[Action], pen: Pen) -> None:
        """Show the keys of other actions."""
        self._actions, self._pen = tuple(actions), pen
        self.redraw()

    def drawn(self, width: int, height: int) -> Sequence[Row]:
        """As many keys as there is room for."""
        self._hints = draw_hints(self._actions, width, self._pen is BOX)
        return self._hints.rows

    async def on_click(self, event: events.Click) -> None:
        """Carry it out."""
        call = self._hints.call_at(event.x, event.y)
        if call:
            await self.screen.run_action(call)
