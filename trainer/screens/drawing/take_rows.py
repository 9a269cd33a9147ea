"""What takes measured of a line, as two tables: over time, and against tempo."""

from collections.abc import Sequence
from typing import Protocol

from trainer.practice.progress import clean_share
from trainer.practice.reading import LineDay, LineTempo
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder
from trainer.screens.drawing.table_row import Column, place, put_cell

FIGURES = (
    Column("passes", "passes", 6, right=True),
    Column("share", "clean", 5, right=True),
    Column("bias", "bias", 5, right=True),
    Column("spread", "spread", 6, right=True),
    Column("gallop", "ratio", 5, right=True),
    Column("notes", "notes", 5, right=True),
)
WHAT = (
    "Clean: of the judged passes. Bias: ms early (-) or late (+); spread: ms around that. "
    "Ratio: the gallop's long to short, 2 as written. Notes: clean ones."
)
"""What the headings mean."""


class Measured(Protocol):
    """A day's or a tempo's figures."""

    @property
    def passes(self) -> int: ...  # noqa: D102
    @property
    def clean(self) -> int: ...  # noqa: D102
    @property
    def missed(self) -> int: ...  # noqa: D102
    @property
    def bias_ms(self) -> float | None: ...  # noqa: D102
    @property
    def spread_ms(self) -> float | None: ...  # noqa: D102
    @property
    def gallop_ratio(self) -> float | None: ...  # noqa: D102
    @property
    def clean_notes(self) -> float | None: ...  # noqa: D102


def has_takes(days: Sequence[LineDay]) -> bool:
    """Whether anything was measured."""
    return any(day.bias_ms is not None or day.clean_notes is not None for day in days)


def days_table(days: Sequence[LineDay], width: int, height: int) -> tuple[Row, ...]:
    """The days, the newest first, as many as fit."""
    rows = [(day.day.isoformat(), day) for day in reversed(days)]
    return _table(Column("day", "day", 10), rows, width, height)


def tempos_table(tempos: Sequence[LineTempo], width: int, height: int) -> tuple[Row, ...]:
    """The tempos, the fastest first, as many as fit."""
    rows = [(f"{tempo.tempo_bpm} bpm", tempo) for tempo in reversed(tempos)]
    return _table(Column("tempo", "tempo", 10), rows, width, height)


def _table(first: Column, rows: Sequence[tuple[str, Measured]], width: int, height: int) -> tuple[Row, ...]:
    columns: tuple[Column, ...] = (first, *FIGURES)
    if sum(column.width + 1 for column in columns) + 3 > width:
        columns = tuple(column for column in columns if column.name != "passes")
    # closer than other tables, so that two stand side by side in 80 cells
    placed, x = [], 1
    for each in place(columns, width):
        placed.append(type(each)(each.column, x, x + each.column.width))
        x += each.column.width + 1
    head = RowBuilder(width)
    for each in placed:
        put_cell(head, each, each.column.heading, ink.QUIET)
    answer = [head.row()]
    for name, figures in rows[: max(0, height - 1)]:
        builder = RowBuilder(width)
        texts = {first.name: name, **_figures(figures)}
        for each in placed:
            put_cell(builder, each, texts[each.column.name], ink.LABEL if each.column is first else ink.PLAIN)
        answer.append(builder.row())
    return tuple(answer)


def _figures(figures: Measured) -> dict[str, str]:
    share = clean_share(figures.clean, figures.missed)
    return {
        "passes": str(figures.passes),
        "share": "-" if share is None else f"{share:.0%}",
        "bias": "-" if figures.bias_ms is None else f"{figures.bias_ms:+.0f}",
        "spread": "-" if figures.spread_ms is None else f"{figures.spread_ms:.0f}",
        "gallop": "-" if figures.gallop_ratio is None else f"{figures.gallop_ratio:.2f}",
        "notes": "-" if figures.clean_notes is None else f"{figures.clean_notes:.0%}",
    }
