"""The lines around a screen: its name and the other screens on top, the keys at the foot. Each can be clicked."""

from collections.abc import Sequence
from typing import NamedTuple

from trainer.screens.actions import Action, key_name
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Panel, RowBuilder, Zone
from trainer.screens.drawing.tables import put_cut


class PageName(NamedTuple):
    """A screen to go to."""

    page: str
    title: str
    key: str
    """Its key as the player reads it."""


STOP = "ctrl space stops"
"""How what is played on the stand is stopped from another screen."""


def page_line(here: str, pages: Sequence[PageName], told: str, playing: str, width: int) -> Panel:
    """Draw the line on top of a screen.

    Args:
        here: the name of the screen that is shown.
        pages: all screens.
        told: a summary of this one.
        playing: what is played on the stand; empty for nothing. It goes before the summary, and before the others.
        width: cells.
    """
    builder, zones = RowBuilder(width), list[Zone]()
    right = width - sum(len(page.title) + len(page.key) + 3 for page in pages if page.page != here)
    title = next((page.title for page in pages if page.page == here), "")
    x = builder.put(1, title, ink.HEAD)
    if playing:
        begin, room = x + 2, width - x - len(STOP) - 5
        cut = playing if len(playing) <= room else f"{playing[: max(0, room - 1)]}…"
        x = builder.put(builder.put(begin, cut, ink.STRONG) + 2, STOP, ink.MARK)
        zones.append(Zone(0, begin, x, "app.stop_playing"))
    shown = right > x + (1 if playing else 12)
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


def draw_hints(actions: Sequence[Action], last: Sequence[Action], width: int, unicode: bool = True) -> Panel:
    """Draw the keys of some actions with their hints.

    Args:
        actions: the most important first; what does not fit is left out whole.
        last: what stands behind them in any width.
        width: cells.
        unicode: whether keys may be named by arrows.
    """
    builder = RowBuilder(width)
    zones: list[Zone] = []
    taken = [(key_name(action.keys[0], unicode), action) for action in last]
    end = width - sum(len(key) + len(action.hint) + 3 for key, action in taken)
    x, shown = 1, []
    for action in actions:
        key = key_name(action.keys[0], unicode)
        if x + len(key) + len(action.hint) + 1 <= end - 1:
            shown.append((key, action))
            x += len(key) + len(action.hint) + 3
    x = 1
    for key, action in (*shown, *taken):
        begin = x
        x = builder.put(x, key, ink.STRONG)
        x = builder.put(x + 1, action.hint, ink.QUIET)
        zones.append(Zone(0, begin, x, action.call))
        x += 2
    return Panel((builder.row(),), tuple(zones))
