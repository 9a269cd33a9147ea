"""Lining up a system: cells of any width become rows whose columns stand under each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer.notation.system import ORDER, SIMILE


@dataclass(frozen=True, slots=True)
class GridBar:
    """One bar of a system, before it is lined up."""

    counts: tuple[str, ...]
    """The marks of its columns; empty for a bar that repeats the one before."""
    cells: Mapping[str, Mapping[int, str]]
    """For each row's label the texts by column."""


def draw_system(bars: Sequence[GridBar], rows: Sequence[str], times: int = 1) -> list[str]:
    """The lines of a system.

    Args:
        bars: its bars.
        rows: the labels of its rows, beside the count row.
        times: how often it is played; written after the last bar line when more than once.
    """
    labels = ["count", *sorted(rows, key=ORDER.index)]
    width = max(len(label) for label in labels)
    drawn = [_draw_bar(bar, labels) for bar in bars]
    lines = []
    for number, label in enumerate(labels):
        tail = f" x{times}" if times > 1 and number == 0 else ""
        lines.append(f"{label:<{width}} | " + " | ".join(bar[number] for bar in drawn) + " |" + tail)
    return lines


def _draw_bar(bar: GridBar, labels: Sequence[str]) -> list[str]:
    """The text of one bar for each row, all of one width, without the spaces beside the bar lines."""
    if not bar.counts:
        return [SIMILE if label == "count" else " " for label in labels]
    begins, at = [], 0
    for column, mark in enumerate(bar.counts):
        begins.append(at)
        widths = [len(mark), *(len(cells.get(column, "")) for cells in bar.cells.values())]
        at += max(widths) + 1
    drawn = []
    for label in labels:
        cells = dict(enumerate(bar.counts)) if label == "count" else bar.cells.get(label, {})
        text = ""
        for column, begin in enumerate(begins):
            if column in cells:
                text = f"{text:<{begin}}{cells[column]}"
        drawn.append(text)
    full = max(len(text) for text in drawn)
    return [f"{text:<{full}}" for text in drawn]
