"""Kept takes drawn: the table of them, and the chosen one in full."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from trainer.listening import marks
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder, plain_row
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.prose import wrap
from trainer.screens.drawing.tables import Placed, TableColumn, put_cell

if TYPE_CHECKING:
    from trainer.listening.takes import KeptTake

COLUMNS = (
    TableColumn("at", "played", 16),
    TableColumn("bpm", "bpm", 5, right=True),
    TableColumn("verdict", "verdict", 10),
    TableColumn("bars", "bars", 7, least=74),
    TableColumn("spread", "spread", 6, right=True, least=100),
    TableColumn("mark", "marked", 6, least=40),
    TableColumn("what", "of", 0, least=56),
)
"""The table's columns from the left; a narrow window leaves some out."""
GLYPHS = {"clean": "+", "missed": "x", "unjudged": "?"}
"""Stands before the verdict's word."""
UNFINISHED = "unfinished"
NOTHING_OFF = "No stroke that anyone would notice."
NOT_KEPT = "Early and late strokes were not kept with this take."


class BesideEarlier(NamedTuple):
    """An earlier take, and the chosen one beside it."""

    earlier: "KeptTake"
    sentences: Sequence[str]
    figures: Sequence[tuple[str, str, str]]
    """What each is, then, now."""


def played_at(take: "KeptTake", seconds: bool = False) -> str:
    """When a take was played, in local time."""
    try:
        at = datetime.fromisoformat(take.info.at)
    except ValueError:
        return take.name
    return at.strftime("%Y-%m-%d %H:%M:%S" if seconds else "%Y-%m-%d %H:%M")


def verdict_words(take: "KeptTake") -> str:
    """Write a take's verdict as a glyph and a word."""
    outcome = str(take.verdict.outcome) if take.verdict else "unjudged"
    return f"{GLYPHS[outcome]} {outcome}"


def take_row(
    take: "KeptTake",
    placed: Sequence[Placed],
    width: int,
    pen: Pen,
    *,
    chosen: bool,
    playing: bool,
    told: Sequence[str],
) -> CellRow:
    """Draw one take.

    Args:
        take: the take.
        placed: where the columns stand.
        width: cells.
        pen: the characters.
        chosen: whether the cursor is on it.
        playing: whether it is heard.
        told: the fields that tell it from the others in the list.
    """
    info = take.info
    names = {"exercise": info.exercise, "riff": info.riff or "the form", "part": info.part}
    what = ", ".join(name for name in (UNFINISHED if info.unfinished else "", *(names[each] for each in told)) if name)
    builder = RowBuilder(width)
    builder.put(0, pen.chosen if chosen else " ", ink.STRONG)
    builder.put(1, pen.heard if playing else " ", ink.STRONG)
    texts = {"at": played_at(take), "bpm": _tempo(take), "verdict": verdict_words(take), "bars": take.info.bars,
             "spread": _spread(take), "mark": "marked" if take.marked else "", "what": what}  # fmt: skip
    for each in placed:
        kind = ink.STRONG if each.column.name in ("at", "mark") else ink.PLAIN
        put_cell(builder, each, texts[each.column.name], kind)
    return builder.row()


def take_details(take: "KeptTake", beside: BesideEarlier | None, width: int, pen: Pen) -> tuple[CellRow, ...]:
    """Draw everything about a take, and how it compares with an earlier one.

    Args:
        take: the take.
        beside: the comparison with an earlier take; None for none.
        width: cells.
        pen: the characters.
    """
    rows = _wrapped(f"{played_at(take, seconds=True)}, {verdict_words(take)}", width, ink.HEAD)
    stays = ", marked: it stays" if take.marked else ""
    rows += _wrapped(f"{_what(take)}, {_tempo(take)} bpm{stays}", width, ink.QUIET)
    if take.info.player:
        rows += _wrapped(f"played by {take.info.player}", width, ink.QUIET)
    for comment in take.info.comments:
        words = " ".join(comment.text.split())
        rows += _wrapped(f'{comment.teacher or "You"} said: "{words}"', width, ink.STRONG)
    if beside is not None:
        rows.append(plain_row("", width))
        rows += _wrapped(f"Beside the take of {played_at(beside.earlier, seconds=True)}", width, ink.STRONG)
        for sentence in beside.sentences:
            rows += _wrapped(sentence, width)
        for what, then, now in (("", "then", "now"), *beside.figures):
            builder = RowBuilder(width)
            builder.put(1, what, ink.LABEL)
            builder.put(11, then, ink.PLAIN if what else ink.QUIET)
            builder.put(23, now, ink.PLAIN if what else ink.QUIET)
            rows.append(builder.row())
    rows.append(plain_row("", width))
    for reason in take.verdict.reasons if take.verdict else ():
        rows += _wrapped(reason.sentence, width)
    rows += _wrapped(_measured(take), width)
    rows.append(plain_row("", width))
    if take.info.marks is None:
        return (*rows, *_wrapped(NOT_KEPT, width, ink.QUIET))
    if take.verdict is not None and take.verdict.counts:
        rows += _wrapped("Stroke by stroke", width, ink.STRONG)
        for mark in take.info.marks or (NOTHING_OFF,):
            rows += wrap([(mark, ink.PLAIN)], width, 4, _glyph(mark, pen))
    return tuple(rows)


def _wrapped(text: str, width: int, kind: str = ink.PLAIN) -> list[CellRow]:
    return wrap([(text, kind)], width, 1, "") if text else []


def _glyph(mark: str, pen: Pen) -> str:
    ends = {marks.EARLY: pen.early, marks.LATE: pen.late, marks.LOST: pen.lost, marks.OTHER: pen.other}
    return next((glyph for end, glyph in ends.items() if mark.endswith(end)), pen.dot)


def _tempo(take: "KeptTake") -> str:
    return "-" if take.info.tempo_bpm is None else f"{take.info.tempo_bpm:.4g}"


def _spread(take: "KeptTake") -> str:
    measured = take.verdict.measured if take.verdict else None
    return f"{measured.spread_ms:.0f} ms" if measured and measured.spread_ms is not None else "-"


def _what(take: "KeptTake") -> str:
    return ", ".join((take.info.what, *((UNFINISHED,) if take.info.unfinished else ())))


def _measured(take: "KeptTake") -> str:
    measured = take.verdict.measured if take.verdict else None
    if measured is None:
        return ""
    told = [f"{measured.notes} notes written, {measured.missed} missed, {measured.wrong} wrong"]
    if measured.bias_ms is not None:
        told.append(f"as a whole {measured.bias_ms:+.0f} ms")
    if measured.spread_ms is not None:
        told.append(f"spread {measured.spread_ms:.0f} ms")
    if measured.gallop_ratio is not None:
        told.append(f"gallop {measured.gallop_ratio:.2f}")
    return f"{'; '.join(told)}."
