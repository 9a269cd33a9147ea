"""The screens by name. A screen is one file and a row here, and its actions are rows of the action table."""

from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.screens.drawing.pen import Pen
    from trainer.session.machine import Machine


class Page(NamedTuple):
    """Where a screen's class is; it is imported when it is first shown."""

    module: str
    name: str
    title: str


PAGES = {
    "shelf": Page("trainer.screens.shelf", "ShelfScreen", "Shelf"),
    "stand": Page("trainer.screens.stand", "StandScreen", "Stand"),
    "logbook": Page("trainer.screens.logbook", "LogbookScreen", "Logbook"),
    "today": Page("trainer.screens.today", "TodayScreen", "Today"),
}
"""The screens, by the names that the action table uses."""

OVER = {"takes": Page("trainer.screens.takes", "TakesScreen", "Takes")}
"""Screens shown over another one, to which they go back."""


def make_page(name: str, machine: "Machine", pen: "Pen") -> "Screen[None]":
    """Make the screen of this name, which works with a machine and draws with a pen."""
    page = PAGES[name]
    made: Screen[None] = getattr(import_module(page.module), page.name)(machine, pen)
    return made
