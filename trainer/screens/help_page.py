"""The help page: every action of the screen it was opened on, with its keys, and the usual cautions."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Static

from trainer.practice.cautions import Where, cautions
from trainer.screens.actions import APPLICATION, actions_for
from trainer.screens.drawing.help_rows import help_rows
from trainer.screens.widgets.scrolled_rows import ScrolledRows
from trainer.screens.window import Window


class HelpPage(Window[None]):
    """What can be done here."""

    BINDINGS = [  # noqa: RUF012 - Textual's
        Binding("escape,f1,question_mark,q", "dismiss", "back", show=False),
        Binding("down", "scroll(1)", show=False),
        Binding("up", "scroll(-1)", show=False),
        Binding("pagedown,space", "scroll(15)", show=False),
        Binding("pageup", "scroll(-15)", show=False),
    ]

    def __init__(self, where: str, title: str, unicode: bool) -> None:
        super().__init__()
        self._where, self._title, self._unicode = where, title, unicode

    def compose(self) -> ComposeResult:
        """A title, the rows, and how to go back."""
        with Vertical(classes="window page"):
            yield Static(f"Help: {self._title}", classes="title", markup=False)
            yield ScrolledRows(id="help")
            yield Static("arrows scroll   escape goes back", classes="foot", markup=False)

    def on_mount(self) -> None:
        """Draw it."""
        actions = (*actions_for(self._where), *APPLICATION)
        told, unicode = cautions(Where.HELP), self._unicode
        self.query_one(ScrolledRows).set_source(lambda width: help_rows(actions, told, width, unicode))

    def action_scroll(self, rows: int) -> None:
        """Scroll down, or up."""
        self.query_one(ScrolledRows).scroll_rows(rows)
