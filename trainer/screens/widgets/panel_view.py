"""The state panel on the stand: drawn facts, whose words can be clicked."""

from textual import events

from trainer.screens.drawing.panel import PanelFacts, draw_panel, lacking
from trainer.screens.drawing.pen import BOX, Pen
from trainer.screens.drawing.zones import Panel
from trainer.screens.widgets.rows import Rows


class PanelView(Rows):
    """Draws facts."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._facts: PanelFacts | None = None
        self._pen = BOX
        self._usual = 0
        self._panel = Panel((), ())
        self.lacking = 0
        """Lines that it would need besides the usual ones for all that was said."""

    def set_facts(self, facts: PanelFacts, pen: Pen, usual: int) -> None:
        """Say something else; `usual` is how many lines it mostly has."""
        if (facts, pen, usual) != (self._facts, self._pen, self._usual):
            self._facts, self._pen, self._usual = facts, pen, usual
            self.lacking = lacking(facts, self.size.width, usual)
            self._draw()

    def on_resize(self) -> None:
        """Draw anew."""
        if self._facts is not None:
            self.lacking = lacking(self._facts, self.size.width, self._usual)
        self._draw()

    def _draw(self) -> None:
        if self._facts is not None and self.size.height:
            self._panel = draw_panel(self._facts, self.size.width, self.size.height, self._pen, self._usual)
            self.show(self._panel.rows)

    async def on_click(self, event: events.Click) -> None:
        """Carry out what the word says."""
        call = self._panel.call_at(event.x, event.y)
        if call:
            await self.screen.run_action(call)
