"""The ladders of looped bars: where the player stands on some bars of a riff, beside the ladder of the whole riff.

Bars are known by their numbers and by the riff's digest: in a riff that was changed they may be other music, and their
ladder begins anew. The whole riff's ladder (`recording.keep_ladder`) goes on through a change.
"""

import json
import sqlite3
from typing import Any, NamedTuple

from trainer.practice.goals import Goal
from trainer.practice.line import Line
from trainer.practice.passes import Pass
from trainer.practice.reading import position_of
from trainer.practice.recording import add_pass, keep_ladder, line_id, new_line_id
from trainer.practice.sittings import Place


class LoopBars(NamedTuple):
    """Some bars of a riff as it was written."""

    digest: str
    """The riff's (`line.digest_of`)."""
    first_bar: int
    """Counted from 1."""
    last_bar: int
    """Included."""


def loop_ladder(db: sqlite3.Connection, line: Line, bars: LoopBars) -> dict[str, Any] | None:
    """Where the player stood on the ladder of these bars (`Ladder.from_dict`); None when never."""
    found = db.execute(
        "SELECT position FROM loop_ladders WHERE line = ? AND digest = ? AND first_bar = ? AND last_bar = ?",
        (line_id(db, line), *bars),
    ).fetchone()
    return position_of(found)


def keep_loop_ladder(
    db: sqlite3.Connection, line: Line, bars: LoopBars | None, position: dict[str, Any], at_ms: int
) -> None:
    """Keep where the player stands on the ladder of these bars; None: on that of the whole riff."""
    if bars is None:
        keep_ladder(db, line, position, at_ms)
        return
    told = json.dumps(position, separators=(",", ":"))
    number = new_line_id(db, line)
    db.execute("INSERT OR REPLACE INTO loop_ladders VALUES(?, ?, ?, ?, ?, ?)", (number, *bars, told, at_ms))


def add_loop_pass(  # noqa: PLR0917  # `Log.change` passes them on by position
    db: sqlite3.Connection,
    played: Pass,
    bars: LoopBars | None,
    ladder: dict[str, Any] | None,
    place: Place,
    sitting: str,
) -> tuple[Goal, ...]:
    """Log a pass as `recording.add_pass` does, with the ladder's position kept for the bars that are looped.

    Args:
        db: inside a transaction.
        played: the pass.
        bars: what the ladder belongs to; None for the whole riff.
        ladder: where the player now stands on it (`Ladder.as_dict`); None when the pass was not played on a ladder.
        place: where the player now is in the sitting.
        sitting: the sitting's id.

    Returns:
        The goals that this pass reached.
    """
    reached = add_pass(db, played, None, place, sitting)
    if ladder is not None:
        keep_loop_ladder(db, played.line, bars, ladder, played.at_ms)
    return reached
