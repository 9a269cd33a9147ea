"""The level before `listen` begins: a line that follows it until Enter on a terminal, else one look and one line."""

import select
import shutil
import sys
import time
from typing import TYPE_CHECKING

from trainer.commands.terminal import say

if TYPE_CHECKING:
    from trainer.listening.capture import Capture, Level

LOOK_S = 1.2
"""How long is looked where nobody is at a terminal."""
STEP_S = 0.1
HELD = 15
"""Steps for which clipping stays on the line."""
CELLS = 24
FLOOR_DB = -60.0
WELL = "play as loud as you will, then press Enter to begin"


def at_terminal() -> bool:
    """Whether somebody sees the line and can press Enter."""
    try:
        return sys.stdin.isatty() and sys.stdout.isatty()
    except (AttributeError, ValueError):
        return False


def words(level: "Level", side: int, inputs: int, held: bool = False) -> str:
    """The level in words: `Input 2: -12 dB`, and what is wrong with it."""
    name = f"Input {side + 1}" if inputs > 1 else "Input"
    wrong = level.sentence or ("The input clips: turn it down." if held else "")
    return f"{name}: {max(level.peak_db, FLOOR_DB):.0f} dB{'. ' + wrong if wrong else ''}"


def bar(level: "Level", cells: int = CELLS) -> str:
    """The level as a bar from -60 dB to full scale, in ASCII for any terminal."""
    full = round(cells * min(1.0, max(0.0, 1 - level.peak_db / FLOOR_DB)))
    return f"[{'#' * full}{'.' * (cells - full)}]"


def watch_level(capture: "Capture", *, aloud: bool = True) -> int | None:
    """Show the level of an open input; which of its inputs is the guitar's, None where nothing was heard.

    Args:
        capture: the open input.
        aloud: whether anything is printed.
    """
    if aloud and at_terminal():
        _follow(capture)
        level = capture.level()
    else:
        time.sleep(LOOK_S)
        level = capture.level()
        if aloud:
            told = words(level, capture.side, capture.channels)
            say(told if level.nothing or capture.heard else f"{told}. Nothing is heard yet: play a little louder.")
    return capture.side if capture.heard else None


def _follow(capture: "Capture") -> None:
    """A line that is drawn anew in its place until Enter is pressed. Ctrl-C is the caller's."""
    clipped, shown = 0, 0
    out = sys.stdout
    try:
        while not _pressed(STEP_S):
            level = capture.level()
            clipped = HELD if level.clipped else max(0, clipped - 1)
            told = words(level, capture.side, capture.channels, held=clipped > 0)
            if not level.sentence and not clipped:
                told = f"{told}; {WELL}"
            line = _fitted(level, told, shutil.get_terminal_size().columns - 1)
            out.write(f"\r{line}{' ' * max(0, shown - len(line))}")
            out.flush()
            shown = len(line)
    finally:
        out.write(f"\r{' ' * shown}\r")
        out.flush()


def _fitted(level: "Level", told: str, room: int) -> str:
    """The words with as much of the bar before them as there is room for."""
    cells = min(CELLS, room - len(told) - 3)
    return (f"{bar(level, cells)} {told}" if cells > 3 else told)[: max(1, room)]


def _pressed(seconds: float) -> bool:
    """Whether Enter is pressed within so many seconds; an input that ended counts as pressed."""
    if sys.platform == "win32":
        import msvcrt

        time.sleep(seconds)
        return any(msvcrt.getwch() in "\r\n" for _ in range(99) if msvcrt.kbhit())
    ready, _, _ = select.select([sys.stdin], [], [], seconds)
    if ready:
        sys.stdin.readline()
    return bool(ready)
