"""What a player does to a loop: start and end it, widen it, narrow it, move it on by its own length."""

import re
from collections.abc import Callable, Mapping
from enum import StrEnum

from trainer.playback.piece import Loop

_BARS = re.compile(r"\s*(\d{1,5})\s*(?:(?:-|to|\s)\s*(\d{1,5}))?\s*", re.ASCII)


class LoopMove(StrEnum):
    """What can be done to a loop besides setting its bars."""

    WIDEN = "widen"
    NARROW = "narrow"
    ON = "move on"
    BACK = "move back"
    WHOLE = "whole"


def start_at(loop: Loop, bar: int, bars: int) -> Loop:
    """The loop from a bar on; where it ended before that, it ends with the bar."""
    bar = _inside(bar, bars)
    return Loop(bar, max(bar, loop.last))


def end_at(loop: Loop, bar: int, bars: int) -> Loop:
    """The loop up to and with a bar; where it began after that, it is the bar alone."""
    bar = _inside(bar, bars)
    return Loop(min(bar, loop.first), bar)


def widen(loop: Loop, bars: int) -> Loop:
    """One bar more: at the end where there is one, else at the start."""
    if loop.last < bars - 1:
        return Loop(loop.first, loop.last + 1)
    return Loop(max(0, loop.first - 1), loop.last)


def narrow(loop: Loop, _bars: int) -> Loop:
    """One bar less at the end; the last one stays."""
    return Loop(loop.first, max(loop.first, loop.last - 1))


def move_on(loop: Loop, bars: int) -> Loop:
    """The next bars, as many: what is left of them at the end; from the last bars back to the first."""
    first = loop.last + 1
    if first >= bars:
        first = 0
    return Loop(first, min(first + loop.bars, bars) - 1)


def move_back(loop: Loop, bars: int) -> Loop:
    """The bars before, as many; from the first bars to the last."""
    last = loop.first - 1
    if last < 0:
        last = bars - 1
    return Loop(max(0, last - loop.bars + 1), last)


def whole(_loop: Loop, bars: int) -> Loop:
    """All bars."""
    return Loop(0, bars - 1)


MOVES: Mapping[LoopMove, Callable[[Loop, int], Loop]] = {
    LoopMove.WIDEN: widen,
    LoopMove.NARROW: narrow,
    LoopMove.ON: move_on,
    LoopMove.BACK: move_back,
    LoopMove.WHOLE: whole,
}
"""Each takes the loop and how many bars there are."""


def parse_bars(text: str, bars: int) -> Loop | None:
    """Read "3", "3-4" or "3 to 4", counted from 1; None for anything else."""
    found = _BARS.fullmatch(text)
    if not found:
        return None
    first, last = int(found[1]), int(found[2] or found[1])
    return Loop(first - 1, last - 1) if 1 <= first <= last <= bars else None


def _inside(bar: int, bars: int) -> int:
    return min(max(bar, 0), bars - 1)
