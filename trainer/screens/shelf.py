"""The shelf: the exercises, to choose one from."""

from textual import work
from textual.app import ComposeResult
from textual.message import Message
from textual.screen import Screen
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from trainer.notation.head import Head
from trainer.screens.actions import APPLICATION, actions_for
from trainer.screens.bindings import bindings_for
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import RowBuilder
from trainer.screens.messages import OpenExercise
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.rows import Rows
from trainer.screens.wiring import Wiring


class ShelfScreen(Screen[None]):
    """Every exercise the player has."""

    BINDINGS = bindings_for("shelf")
    page = "shelf"

    class Listed(Message):
        """The exercises were found in the background."""

        def __init__(self, heads: tuple[Head, ...]) -> None:
            super().__init__()
            self.heads = heads

    def __init__(self, wiring: Wiring) -> None:
        super().__init__()
        self.wiring = wiring
        self._ids: list[str] = []

    def compose(self) -> ComposeResult:
        """A title, the list, and keys."""
        yield Rows(id="title")
        yield HintsView(id="hints")
        yield OptionList(id="list", markup=False)

    def on_mount(self) -> None:
        """Look for exercises."""
        self.query_one(HintsView).set_actions((*actions_for(self.page), *APPLICATION), self.wiring.pen)
        self.list_exercises()

    def on_resize(self) -> None:
        """Draw the title."""
        builder = RowBuilder(max(1, self.size.width))
        builder.put(1, "Twinspur", ink.HEAD)
        self.query_one("#title", Rows).show([builder.row()])

    @work(thread=True, exclusive=True)
    def list_exercises(self) -> None:
        """Find them without holding up the screen."""
        self.post_message(self.Listed(tuple(self.wiring.exercises.heads())))

    def on_shelf_screen_listed(self, message: Listed) -> None:
        """Show them, the last one on the stand first."""
        last = self.wiring.memory.last
        heads = sorted(message.heads, key=lambda head: (last is None or head.id != last[0], head.title.casefold()))
        self._ids = [head.id for head in heads]
        options = self.query_one(OptionList)
        options.clear_options()
        options.add_options([Option(_line(head), disabled=bool(head.problem)) for head in heads])
        options.highlighted = 0 if heads else None
        options.focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Put it on the stand."""
        self.post_message(OpenExercise(self._ids[event.option_index]))


def _line(head: Head) -> str:
    if head.problem:
        return f"{head.title}   {head.problem}"
    return f"{head.title:<28} {head.key:<18} {head.start_bpm:g} to {head.target_bpm:g} bpm"
