"""Rows of a table: fixed columns and one that takes what is left; text that does not fit is cut and marked."""

from collections.abc import Sequence
from typing import NamedTuple

from rich.cells import cell_len

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder

GAP = 2
"""Cells between two columns."""
MARGIN = 3
"""Cells for the cursor's mark, another mark, and a space before a row's first column."""


class TableColumn(NamedTuple):
    """A column of a table."""

    name: str
    """What it holds, for code."""
    heading: str
    width: int
    """In cells; 0 for the column that takes what is left."""
    right: bool = False
    """Whether figures stand at its right edge."""
    least: int = 0
    """The width of a window from which on the column is shown."""


class Placed(NamedTuple):
    """A column where it stands."""

    column: TableColumn
    x: int
    end: int


def place(columns: Sequence[TableColumn], width: int) -> tuple[Placed, ...]:
    """Place the columns that fit a width, from the left."""
    shown = [column for column in columns if width >= column.least]
    fixed = sum(column.width for column in shown) + GAP * (len(shown) - 1) + MARGIN + 1
    x, placed = MARGIN, []
    for column in shown:
        wide = column.width or max(4, width - fixed)
        placed.append(Placed(column, x, min(x + wide, width)))
        x += wide + GAP
    return tuple(placed)


def put_cell(builder: RowBuilder, placed: Placed, text: str, kind: str) -> None:
    """Write a column's text; text that is too long is cut and marked."""
    put_cut(builder, placed.x, text, kind, placed.end, right=placed.column.right)


def put_cut(  # noqa: PLR0917 - as `RowBuilder.put`
    builder: RowBuilder, x: int, text: str, kind: str, end: int, right: bool = False
) -> int:
    """Write a text into the cells from `x` up to `end`; a cut text ends in "..". Returns the cell after it."""
    room = end - x
    if room <= 0:
        return x
    wide = cell_len(text)
    if wide > room:
        x = builder.put(x, text, kind, end - 2)
        return builder.put(x, "..", ink.QUIET, end)
    return builder.put(end - wide if right else x, text, kind, end)


def heading_row(placed: Sequence[Placed], width: int, chosen: str = "", mark: str = "") -> CellRow:
    """Draw the columns' headings; the chosen one stands out, and has a mark behind it if there is room."""
    builder = RowBuilder(width)
    for each in placed:
        name = each.column.heading
        ordered = each.column.name == chosen
        put_cell(builder, each, f"{name}{mark}" if ordered else name, ink.STRONG if ordered else ink.QUIET)
    return builder.row()
