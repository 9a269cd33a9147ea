"""The line at the foot of a screen: keys and what they do, as many as fit, each of which can be clicked."""

from collections.abc import Sequence

from trainer.screens.actions import Action, key_name
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import RowBuilder
from trainer.screens.drawing.zones import Panel, Zone


def draw_hints(actions: Sequence[Action], width: int, unicode: bool = True) -> Panel:
    """The line for some actions, the most important first; those without a hint are left out."""
    builder = RowBuilder(width)
    zones: list[Zone] = []
    x = 1
    for action in actions:
        if not action.hint:
            continue
        key = key_name(action.keys[0], unicode)
        if x + len(key) + len(action.hint) + 2 > width:
            continue
        begin = x
        x = builder.put(x, key, ink.STRONG)
        x = builder.put(x + 1, action.hint, ink.QUIET)
        zones.append(Zone(0, begin, x, action.call))
        x += 2
    return Panel((builder.row(),), tuple(zones))
