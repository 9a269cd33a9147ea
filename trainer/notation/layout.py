"""Lining up a system: cells of any width become rows whose columns stand under each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from trainer.notation.system import ORDER, SIMILE


@dataclass(frozen=True, slots=True)
class Range:
    """A mark with dashes as far as it holds."""

    first: int
    """Index of the column in which it begins."""
    last: int
    """Index of the last column that it reaches."""
    word: str
    """The mark; empty for one that goes on from the bar before."""


@dataclass(frozen=True, slots=True)
class GridBar:
    """One bar of a system, before it is lined up."""

    counts: tuple[str, ...]
    """The marks of its columns; empty for a bar that repeats the one before."""
    cells: Mapping[str, Mapping[int, str]]
    """For each row's label the texts by column."""
    ranges: Mapping[str, tuple[Range, ...]] = field(default_factory=dict)
    """For each row's label the marks that hold over several columns."""


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
    begins: list[int] = []
    at = 0
    spans = [span for ranges in bar.ranges.values() for span in ranges]
    for column, mark in enumerate(bar.counts):
        begins.append(at)
        widths = [len(mark), *(len(cells.get(column, "")) for cells in bar.cells.values())]
        at += max(widths) + 1
        # A mark and at least one dash stand inside the columns that it reaches.
        at = max([at, *(begins[span.first] + len(span.word) + 2 for span in spans if span.last == column)])
    ends = [*(begin - 1 for begin in begins[1:]), at - 1]
    drawn = []
    for label in labels:
        cells = dict(enumerate(bar.counts)) if label == "count" else bar.cells.get(label, {})
        pieces = {begins[column]: text for column, text in cells.items()}
        for span in bar.ranges.get(label, ()):
            begin = begins[span.first]
            pieces[begin] = span.word + "-" * (ends[span.last] - begin - len(span.word))
        text = ""
        for begin in sorted(pieces):
            text = f"{text:<{begin}}{pieces[begin]}"
        drawn.append(text)
    full = max(len(text) for text in drawn)
    return [f"{text:<{full}}" for text in drawn]
