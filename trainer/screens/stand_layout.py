"""How the stand's panes share the window."""

from dataclasses import dataclass

SMALLEST = (40, 12)
"""Cells and lines under which nothing is drawn."""
WIDE = (150, 32)
"""From here on the state stands beside the music."""
SIDE = 52
TOO_SMALL = "This window is\ntoo small. Make\nit 40 by 12 or\nlarger."
MOST_PROSE = 12


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


def layout_for(width: int, height: int, neck: bool, prose: bool, neck_lines: int) -> Layout:
    """The panes for a window.

    Args:
        width: cells.
        height: lines.
        neck: whether the neck is wanted.
        prose: whether the lesson's words are wanted.
        neck_lines: lines that the neck takes.
    """
    if width < SMALLEST[0] or height < SMALLEST[1]:
        return Layout(small=True)
    if width >= WIDE[0] and height >= WIDE[1]:
        panel = 26 if height >= 40 else 22
        return Layout(
            wide=True, side=SIDE, panel=panel, prose=max(1, height - panel - 4), neck=neck_lines + 1 if neck else 0
        )
    panel = 7 if height >= 34 else 4
    room = height - panel - 2 - 10
    neck_height = neck_lines + 1 if neck and room >= neck_lines + 1 else 0
    room -= neck_height
    prose_height = max(0, min(MOST_PROSE, max(room, 5))) if prose else 0
    return Layout(panel=panel, prose=prose_height, neck=neck_height)
