"""A line to type words in that are looked for, in which `?` asks for help as everywhere."""

from textual.binding import Binding
from textual.widgets import Input


class FindLine(Input):
    """A line of sought words; its cursor does not blink."""

    BINDINGS = [Binding("question_mark", "app.help", "help", show=False, priority=True)]  # noqa: RUF012 - Textual's

    def on_mount(self) -> None:
        """Keep the cursor from blinking, as everywhere."""
        self.cursor_blink = False
