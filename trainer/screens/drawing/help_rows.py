"""The help page's rows: every action of a screen under its heading, with its keys, and the usual cautions."""

from collections.abc import Sequence
from itertools import groupby

from trainer.practice.cautions import Caution
from trainer.screens.actions import Action, key_name
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder
from trainer.screens.drawing.wrapping import wrapped

_KEYS = 24
"""Cells for the keys."""


def help_rows(
    actions: Sequence[Action], cautions: Sequence[Caution], width: int, unicode: bool = True
) -> tuple[Row, ...]:
    """The rows of the help page for a width."""
    rows: list[Row] = []
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


def _line(width: int, *pieces: tuple[int, str, str]) -> Row:
    builder = RowBuilder(width)
    for x, text, kind in pieces:
        builder.put(x, text, kind)
    return builder.row()
