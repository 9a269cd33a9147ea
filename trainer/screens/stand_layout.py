"""How the stand's panes share the window."""

from dataclasses import dataclass

from trainer.screens.choices import Pane

SMALLEST = (40, 12)
"""Cells and lines under which nothing is drawn."""
WIDE = (150, 32)
"""From here on the state stands beside the music."""
SIDE = 52
TOO_SMALL = "This window is\ntoo small. Make\nit 40 by 12 or\nlarger."
MOST_PROSE, LEAST_PROSE = 14, 6
"""Lines of the lesson's words."""
LEAST_SHOWN = 3
"""Lines of the words that stay while the panel has more to say."""
LEAST_ROWS = 8
"""Lines that the music keeps when the player asks for other panes: a count row, six strings and a row of marks."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Lines of every pane; 0 for those that are not shown."""

    small: bool = False
    wide: bool = False
    side: int = 0
    """Cells of the side pane, where the window is wide."""
    panel: int = 4
    prose: int = 0
    neck: int = 0


def layout_for(  # noqa: PLR0917 - what a layout depends on
    width: int, height: int, neck: Pane, prose: Pane, neck_lines: int, staff_rows: int, lacking: int = 0
) -> Layout:
    """The panes for a window.

    Args:
        width: cells.
        height: lines.
        neck: whether the neck is wanted.
        prose: whether the lesson's words are wanted.
        neck_lines: lines that the neck takes.
        staff_rows: rows of a system with every mark; panes that are shown where there is room leave it that many.
        lacking: lines that the panel would need besides its own; the words give it some of theirs, or the music what it
            does not need.
    """
    if width < SMALLEST[0] or height < SMALLEST[1]:
        return Layout(small=True)
    wide = width >= WIDE[0] and height >= WIDE[1]
    panel = panel_lines(width, height)
    room = height - 2 - (0 if wide else panel)
    least = LEAST_ROWS if neck is Pane.ON else staff_rows + (LEAST_PROSE if prose is Pane.ON and not wide else 0)
    neck_height = neck_lines + 1 if neck is not Pane.OFF and neck_lines and room - neck_lines - 1 >= least else 0
    room -= neck_height
    if wide:
        prose_height = max(1, height - panel - 4) if prose is not Pane.OFF else 0
        return Layout(wide=True, side=SIDE, panel=panel, prose=prose_height, neck=neck_height)
    crowded = prose is Pane.ON and room - staff_rows < LEAST_PROSE
    spare = room - (LEAST_ROWS if crowded else staff_rows)
    prose_height = 0 if prose is Pane.OFF else min(MOST_PROSE, spare)
    if prose_height < LEAST_PROSE:
        prose_height = LEAST_PROSE if prose is Pane.ON else 0
    more = min(lacking, max(0, prose_height - LEAST_SHOWN if prose_height else room - staff_rows))
    return Layout(panel=panel + more, prose=max(0, prose_height - more), neck=neck_height)


def panel_lines(width: int, height: int) -> int:
    """Lines that the panel has of its own."""
    if width >= WIDE[0] and height >= WIDE[1]:
        return 26 if height >= 40 else 22
    return 7 if height >= 34 else 4
