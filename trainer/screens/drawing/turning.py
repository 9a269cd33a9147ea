"""Turning pages: which systems are seen while the playing goes on, so that what comes next is always in view.

With several systems in view, each stays where it is until it has been played; then the next one that is not in view
takes its place, while the player reads on in the one below (after the lowest, in the uppermost). With a single system
in view, systems overlap: the view turns when the playing enters what the next one begins with.
"""

from collections.abc import Sequence
from fractions import Fraction

from trainer.screens.drawing.systems import System

ENTERED = 2
"""Columns that are played in a system before the one before it is turned."""


def system_at(systems: Sequence[System], place: Fraction) -> int:
    """The index of the system that a place is read in; of two that overlap there, the later one."""
    return max((n for n, system in enumerate(systems) if system.at <= place < system.end), default=0)


def in_view(systems: Sequence[System], slots: int, place: Fraction, passes: int = 0) -> tuple[int, ...]:
    """The indices of the systems that stand in each slot, from the top.

    Args:
        systems: the systems of the loop.
        slots: how many are seen at once.
        place: where the playing is.
        passes: passes that were played before: slots go on in turn where the loop begins anew.
    """
    count = len(systems)
    if count <= slots:
        return tuple(range(count))
    now = system_at(systems, place)
    if slots == 1:
        return (now,)
    turn = passes * count + now
    columns = systems[now].columns
    entered = place >= columns[min(ENTERED, len(columns) - 1)].column.at
    shown = []
    for slot in range(slots):
        ahead = (slot - turn) % slots
        stays = ahead == slots - 1 and not entered and turn > 0
        shown.append((now - 1 if stays else now + ahead) % count)
    return tuple(shown)
