"""A judged pass in two lines that can be read from two metres away: how it was, and the one thing to do next."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.practice.verdict import Outcome
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, Panel, RowBuilder, Zone
from trainer.screens.drawing.pen import Pen

if TYPE_CHECKING:
    from trainer.session.heard_pass import JudgedPass

ALL = "U: all"
"""Where the rest is."""
FOLLOW = "do('follow')"
"""What a click on the second line does."""


def head_of(heard: "JudgedPass", pen: Pen) -> tuple[str, ...]:
    """Say in pieces, most important first, which pass it was, how it was, and what most of its strokes had.

    A clean pass names what to watch, where there is something; one that could not be judged, why.
    """
    judgement, which = heard.judgement, _which(heard)
    verdict, faults = judgement.verdict, judgement.faults
    pieces: tuple[str, ...]
    if verdict.outcome is Outcome.CLEAN:
        spread = judgement.timing.spread_ms if judgement.timing is not None else None
        steady = "" if spread is None else f"strokes within {spread:.0f} ms"
        pieces = (f"{which}: {pen.clean} clean", f"watch {faults[0].brief}" if faults else steady)
    elif verdict.outcome is Outcome.MISSED:
        more = f"{len(faults) - 1} more" if len(faults) > 1 else ""
        pieces = (f"{which}: {pen.lost} not clean", faults[0].brief if faults else "", more)
    else:
        pieces = (f"{which}: not judged", verdict.reasons[0].sentence if verdict.reasons else "")
    return tuple(piece for piece in pieces if piece)


def _which(heard: "JudgedPass") -> str:
    """The pass by its number, or the bars that were played of one that was broken off."""
    of = heard.of
    if of.bars is None:
        return f"pass {of.number}" if of.number else "the pass"
    first = of.passage.loop.first + 1
    last = first + of.bars - 1
    return f"broken off, bar {first}" if first == last else f"broken off, bars {first}-{last}"


def below_of(heard: "JudgedPass", proposed: str, key: str) -> str:
    """Say in one line what to do next, or what is steady in the player's timing; what spoilt the take comes first.

    Args:
        heard: the pass.
        proposed: what to do, in a few words; empty for nothing.
        key: the key that does it.
    """
    if heard.judgement.warnings:
        return heard.judgement.warnings[0] if not proposed else f"{key}: {proposed}  {heard.judgement.warnings[0]}"
    return f"{key}: {proposed}" if proposed else heard.judgement.habit


def two_lines(
    head: Sequence[str], below: str, pen: Pen, width: int, height: int, *, follows: bool, rest: bool
) -> Panel:
    """Draw the two lines; in a pane of one line only the first.

    Args:
        head: the first line in pieces; of three that do not fit, the last one is left out.
        below: the second line.
        pen: the characters.
        width: cells.
        height: lines.
        follows: whether a click on the second line does what it says.
        rest: whether there is more to read behind a key.
    """
    rows: list[CellRow] = []
    for number in range(height):
        builder = RowBuilder(width)
        last = rest and number == min(height, 2) - 1
        room = max(1, width - 2 - (len(ALL) + 2 if last else 0))
        text = (_joined(head, pen, room), below)[number] if number < 2 else ""
        builder.put(1, _cut(text, room), ink.STRONG if number == 0 else ink.PLAIN)
        if last:
            builder.put(max(1, width - len(ALL) - 1), ALL, ink.QUIET)
        rows.append(builder.row())
    zones = (Zone(1, 1, max(1, width - len(ALL) - 2), FOLLOW),) if follows and height > 1 else ()
    return Panel(tuple(rows), zones)


def _joined(pieces: Sequence[str], pen: Pen, room: int) -> str:
    whole = f" {pen.dot} ".join(pieces)
    return whole if len(whole) <= room or len(pieces) < 3 else f" {pen.dot} ".join(pieces[:-1])


def _cut(text: str, room: int) -> str:
    """The text in so many cells, cut after a whole word."""
    if len(text) <= room:
        return text
    return text[: room - 1].rsplit(" ", 1)[0].rstrip(" ,;:") + "…"
