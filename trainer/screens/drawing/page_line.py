"""The line on top of a screen: its name, what there is to say of it, and the other screens to click on."""

from collections.abc import Sequence
from typing import NamedTuple

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import RowBuilder
from trainer.screens.drawing.table_row import put_cut
from trainer.screens.drawing.zones import Panel, Zone


class PageName(NamedTuple):
    """A screen to go to."""

    page: str
    title: str
    key: str
    """Its key as the player reads it."""


def page_line(here: str, pages: Sequence[PageName], told: str, width: int) -> Panel:
    """The line.

    Args:
        here: the name of the screen that is shown.
        pages: all screens.
        told: what to say of this one.
        width: cells.
    """
    builder, zones = RowBuilder(width), []
    right = width - sum(len(page.title) + len(page.key) + 3 for page in pages if page.page != here)
    title = next((page.title for page in pages if page.page == here), "")
    x = builder.put(1, title, ink.HEAD)
    shown = right > x + 12
    put_cut(builder, x + 2, told, ink.QUIET, right - 1 if shown else width - 1)
    for page in pages if shown else ():
        if page.page == here:
            continue
        begin = right
        right = builder.put(right, page.key, ink.STRONG)
        right = builder.put(right + 1, page.title, ink.QUIET)
        zones.append(Zone(0, begin, right, f"app.page('{page.page}')"))
        right += 2
    return Panel((builder.row(),), tuple(zones))
