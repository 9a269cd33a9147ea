"""The screens by name. A screen is one file and a row here, and its actions are rows of the action table."""

from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.screens.wiring import Wiring


class Page(NamedTuple):
    """Where a screen's class is; it is imported when it is first shown, and made with the wiring."""

    module: str
    name: str
    title: str


PAGES = {
    "shelf": Page("trainer.screens.shelf", "ShelfScreen", "Shelf"),
    "stand": Page("trainer.screens.stand", "StandScreen", "Stand"),
    "logbook": Page("trainer.screens.logbook", "LogbookScreen", "Logbook"),
    "today": Page("trainer.screens.today", "TodayScreen", "Today"),
}
"""By the names that the action table uses."""

OVER = {"takes": Page("trainer.screens.takes", "TakesScreen", "Takes")}
"""Screens that are shown over another one, and go away to it."""


def make_page(name: str, wiring: "Wiring") -> "Screen[None]":
    """A screen of this name."""
    page = PAGES[name]
    made: Screen[None] = getattr(import_module(page.module), page.name)(wiring)
    return made
