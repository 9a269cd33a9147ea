"""The explain pane as lines: headings, and below each its sentences, one after the other."""

from collections.abc import Sequence

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder, plain_row
from trainer.screens.drawing.wrapping import wrapped
from trainer.screens.explained import Told

INDENT = 2
"""Cells before a sentence's second line."""


def explanation_rows(told: Sequence[Told], width: int) -> tuple[Row, ...]:
    """The lines of an explanation.

    Args:
        told: headings with their sentences, in plain text: nothing in them is markup.
        width: cells of a line.
    """
    rows: list[Row] = []
    for group in told:
        if rows:
            rows.append(RowBuilder(width).row())
        rows += [plain_row(line, width, ink.HEAD) for line in wrapped(group.heading, width)]
        for sentence in group.sentences:
            rows += _hanging(sentence, width)
    return tuple(rows)


def _hanging(text: str, width: int) -> list[Row]:
    """A text whose lines but the first stand in."""
    lines = wrapped(text, max(1, width - INDENT))
    rows = []
    for number, line in enumerate(lines):
        builder = RowBuilder(width)
        builder.put(INDENT if number else 0, line, ink.PLAIN)
        rows.append(builder.row())
    return rows
