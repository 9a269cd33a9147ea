"""The window before listening begins: the level, clipping, and whether anything is heard at all."""

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Static

from trainer.screens.asking import Window
from trainer.screens.drawing.heard_rows import level_row
from trainer.screens.drawing.pen import Pen
from trainer.screens.widgets.rows import Rows

if TYPE_CHECKING:
    from trainer.session.inputs import Input

LOOK_SECONDS = 0.1
HELD = 20
"""How many looks clipping stays on the meter."""
WELL = "Play as loud as you will: the bar should come near its end and never fill it."


class LevelMeter(Window[bool]):
    """Shows an open input's level; answers with True if listening may begin."""

    BINDINGS = [  # noqa: RUF012 - Textual's
        Binding("enter", "dismiss(True)", "listen", show=False),
        Binding("space", "dismiss(True)", "listen", show=False),
        Binding("escape", "dismiss(False)", "back", show=False),
    ]

    def __init__(self, ear: "Input", pen: Pen, advice: str = "") -> None:
        """Show it.

        Args:
            ear: the open input; it stays open.
            pen: the characters.
            advice: a sentence to read before the first time; empty for none.
        """
        super().__init__()
        self._ear, self._pen, self._advice = ear, pen, advice
        self._clips = 0
        self._said = ""

    def compose(self) -> ComposeResult:
        """The input's name, the meter, what it says, and the keys."""
        with Vertical(classes="window"):
            yield Static(self._ear.name, classes="title", markup=False)
            yield Rows(id="level")
            yield Static(WELL, id="level-words", markup=False)
            if self._advice:
                yield Static(self._advice, classes="foot", markup=False)
            yield Static("enter: listen   escape: back", classes="foot", markup=False)

    def on_mount(self) -> None:
        """Begin to look."""
        self.look()
        self.set_interval(LOOK_SECONDS, self.look)

    def look(self) -> None:
        """Show the level since the last look."""
        level = self._ear.level()
        self._clips = HELD if level.clipped else max(0, self._clips - 1)
        rows = self.query_one("#level", Rows)
        rows.show([level_row(level.peak_db, self._clips > 0, max(12, rows.size.width or 58), self._pen)])
        said = self._ear.gone or level.sentence or ("The input clips: turn it down." if self._clips else WELL)
        if said != self._said:
            self._said = said
            self.query_one("#level-words", Static).update(said)
