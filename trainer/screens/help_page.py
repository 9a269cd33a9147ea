"""The help page: every action of the screen it was opened on, to be found by typing, and the usual cautions."""

from collections.abc import Sequence
from itertools import groupby

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Input, Static

from trainer.practice.cautions import Caution, Where, cautions
from trainer.screens.actions import APPLICATION, Action, actions_for, key_name
from trainer.screens.asking import Window
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder
from trainer.screens.drawing.prose import wrapped
from trainer.screens.players_words import answers_to
from trainer.screens.widgets.find_line import FindLine
from trainer.screens.widgets.rows import ScrolledRows


class HelpPage(Window[None]):
    """What can be done here."""

    BINDINGS = [  # noqa: RUF012 - Textual's
        Binding("escape,f1", "dismiss", "back", show=False),
        Binding("down", "scroll(1)", show=False),
        Binding("up", "scroll(-1)", show=False),
        Binding("pagedown", "scroll(15)", show=False),
        Binding("pageup", "scroll(-15)", show=False),
    ]

    def __init__(self, where: str, title: str, unicode: bool) -> None:
        super().__init__()
        self._where, self._title, self._unicode = where, title, unicode

    def compose(self) -> ComposeResult:
        """A title, a line to type in, the rows, and how to go back."""
        with Vertical(classes="window page"):
            yield Static(f"Help: {self._title}", classes="title", markup=False)
            yield FindLine(placeholder="type what you are looking for: mute, slower, metronome", id="sought")
            yield ScrolledRows(id="help")
            yield Static("type to find   arrows scroll   escape goes back", classes="foot", markup=False)

    def on_mount(self) -> None:
        """Draw everything."""
        self._show("")

    def on_input_changed(self, event: Input.Changed) -> None:
        """Draw what answers to the words."""
        self._show(event.value)

    def _show(self, typed: str) -> None:
        every = (*actions_for(self._where), *APPLICATION)
        actions = tuple(action for action in every if answers_to(action, typed))
        told, unicode = () if typed.strip() else cautions(Where.HELP), self._unicode
        nothing = "" if actions else f"Nothing here answers to “{typed.strip()}”."
        self.query_one(ScrolledRows).set_source(lambda width: help_rows(actions, told, width, unicode, nothing))

    def action_scroll(self, rows: int) -> None:
        """Scroll down, or up."""
        self.query_one(ScrolledRows).scroll_rows(rows)


_KEYS = 24
"""Cells for the keys."""


def help_rows(
    actions: Sequence[Action], cautions: Sequence[Caution], width: int, unicode: bool = True, nothing: str = ""
) -> tuple[CellRow, ...]:
    """The rows of the help page for a width; `nothing` is what to say where no action was found."""
    rows = [_line(width, (0, line, ink.PLAIN)) for line in wrapped(nothing, width)] if nothing else []
    for group, members in groupby(actions, key=lambda action: action.group):
        rows.append(_line(width, (0, group, ink.HEAD)))
        for action in members:
            keys = ", ".join(key_name(key, unicode) for key in action.keys)
            first, *rest = wrapped(action.title, width - _KEYS)
            rows.append(_line(width, (2, keys, ink.STRONG), (_KEYS, first, ink.PLAIN)))
            rows += [_line(width, (_KEYS, line, ink.PLAIN)) for line in rest]
            more = wrapped(action.help, width - _KEYS) if action.help else []
            rows += [_line(width, (_KEYS, line, ink.QUIET)) for line in more]
        rows.append(_line(width))
    for caution in cautions:
        rows.append(_line(width, (0, caution.title, ink.HEAD)))
        rows += [_line(width, (2, line, ink.PLAIN)) for line in wrapped(caution.text, width - 2)]
        rows.append(_line(width))
    return tuple(rows)


def _line(width: int, *pieces: tuple[int, str, str]) -> CellRow:
    builder = RowBuilder(width)
    for x, text, kind in pieces:
        builder.put(x, text, kind)
    return builder.row()
