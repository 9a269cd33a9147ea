"""The state panel on the stand: drawn facts, whose words can be clicked."""

from trainer.screens.drawing.panel import PanelFacts, draw_panel, lacking
from trainer.screens.drawing.pen import BOX, Pen
from trainer.screens.widgets.rows import DrawnPanel


class PanelView(DrawnPanel):
    """Draws the session's state in words and large figures."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._shown: tuple[PanelFacts | None, Pen, int] = (None, BOX, 0)

    @property
    def lacking(self) -> int:
        """How many more lines than usual it would need for all of the last words."""
        facts, _, usual = self._shown
        return lacking(facts, self.size.width, usual) if facts is not None else 0

    def set_facts(self, facts: PanelFacts, pen: Pen, usual: int) -> None:
        """Show other facts; `usual` is how many lines the panel mostly has."""
        if (facts, pen, usual) != self._shown:
            self._shown = facts, pen, usual
            self.set_source(lambda width, height: draw_panel(facts, width, height, pen, usual))
