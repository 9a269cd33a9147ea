"""The shelf drawn: the table of exercises, the line of filters over it, and the chosen exercise in detail."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.screens.drawing import ink
from trainer.screens.drawing.day_words import ago, due_words, minutes_words, passes_words
from trainer.screens.drawing.ink import CellRow, Panel, RowBuilder, Zone
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.prose import wrapped
from trainer.screens.drawing.tables import Placed, TableColumn, put_cell, put_cut
from trainer.screens.shelf_contents import Entry, ShelfSearch, is_due, share_of_target

if TYPE_CHECKING:
    from trainer.practice.assigned import Standing
    from trainer.practice.reading import LineRecord

COLUMNS = (
    TableColumn("title", "title", 0),
    TableColumn("tags", "tags", 24, least=150),
    TableColumn("key", "key", 18, least=70),
    TableColumn("target", "target", 6, right=True, least=34),
    TableColumn("best", "best", 4, right=True, least=44),
    TableColumn("share", "of target", 10, least=108),
    TableColumn("last", "last played", 11, least=92),
    TableColumn("due", "due", 12, least=58),
)
"""The table's columns from the left; a narrow window leaves some out."""
SHARE_CELLS = 10
RECORD = frozenset({"best", "last", "due"})
"""Columns that the log fills."""
BROKEN = "!"
DUE = "*"
ASKED = "@"
"""Stands before what a teacher asks for; such rows come first."""


def entry_row(
    entry: Entry,
    placed: Sequence[Placed],
    today: date,
    *,
    width: int,
    pen: Pen,
    chosen: bool,
    hidden: bool = False,
    recorded: bool = True,
) -> CellRow:
    """Draw one exercise.

    Args:
        entry: the exercise.
        placed: where the columns stand.
        today: the day of practice.
        width: cells of the row.
        pen: the characters.
        chosen: whether the cursor is on it.
        hidden: whether an earlier file has its id.
        recorded: whether the log was read; until then what it would say is left out.
    """
    builder = RowBuilder(width)
    if chosen:
        builder.put(0, pen.chosen, ink.STRONG)
    by_name = {each.column.name: each for each in placed}
    title = by_name["title"]
    if entry.wrong or hidden:
        builder.put(1, BROKEN, ink.STRONG)
        x = put_cut(builder, title.x, entry.head.title, ink.PLAIN, title.end)
        what = entry.wrong or "another file has this id"
        put_cut(builder, max(x, title.x) + 2, _without_place(what, entry.head.file), ink.MARK, width - 1)
        return builder.row()
    put_cell(builder, title, entry.head.title, ink.STRONG if chosen else ink.PLAIN)
    due = is_due(entry.record, today.toordinal())
    for name, (text, kind) in _cells(entry, today, due).items():
        if name in by_name and (recorded or name not in RECORD):
            put_cell(builder, by_name[name], text, kind)
    if "share" in by_name and entry.record and entry.record.best_bpm:
        full = min(SHARE_CELLS, round(share_of_target(entry) * SHARE_CELLS))
        x = builder.put(by_name["share"].x, pen.full * full, ink.MARK)
        builder.put(x, pen.empty * (SHARE_CELLS - full), ink.QUIET)
    if due or entry.to_do:
        builder.put(1, ASKED if entry.to_do else DUE, ink.STRONG)
    return builder.row()


def _cells(entry: Entry, today: date, due: bool) -> dict[str, tuple[str, str]]:
    head, record = entry.head, entry.record
    day = date.fromordinal(record.due_day) if record and record.due_day else None
    return {
        "tags": (", ".join(head.tags), ink.QUIET),
        "key": (head.key, ink.QUIET),
        "target": (f"{head.target_bpm:g}", ink.PLAIN),
        "best": (f"{record.best_bpm:.0f}" if record and record.best_bpm else "-", ink.PLAIN),
        "last": (ago(last_day(record.last_ms), today) if record and record.last_ms else "-", ink.QUIET),
        "due": (_asked_words(entry, today), ink.STRONG)
        if entry.to_do
        else (due_words(day, today) or "-", ink.PLAIN if due else ink.QUIET),
    }


def _asked_words(entry: Entry, today: date) -> str:
    """When a teacher wants the first of what is to do, in the width of a column."""
    first = entry.to_do[0]
    by = first.assignment.by
    if first.state(today):
        return "asked, late"
    return f"by {by.day} {by:%b}" if by else "asked for"


def asked_rows(asked: "Sequence[Standing]", today: date) -> tuple[str, ...]:
    """Say what a teacher asks for, an assignment a sentence, with the teacher's words.

    Args:
        asked: the assignments.
        today: the day of practice.
    """
    told = []
    for each in asked:
        task = each.assignment
        by = f" by {task.by.isoformat()}" if task.by else ""
        daily = f", {task.minutes} minutes a day" if task.minutes else ""
        state = each.state(today)
        words = f" ({state})" if state else ""
        note = f' "{" ".join(task.note.split())}"' if task.note.strip() else ""
        told.append(f"{task.teacher or 'Your teacher'}: {task.place}, {task.tempo_bpm:g} bpm{by}{daily}{words}.{note}")
    return tuple(told)


def last_day(at_ms: int) -> date | None:
    """The local day of a moment in milliseconds; None for none."""
    return datetime.fromtimestamp(at_ms / 1000).astimezone().date() if at_ms else None


def _without_place(problem: str, file: str) -> str:
    """Leave out a problem's file, which the row names anyway; line and column stay."""
    for name in (file, Path(file).name):
        if problem.startswith(f"{name}:"):
            rest = problem.removeprefix(name).lstrip(": ")
            return f"line {rest}" if rest[:1].isdigit() else rest
    return problem


def filter_line(wanted: ShelfSearch, shown: int, of: int, *, at: int, width: int, keys: Mapping[str, str]) -> Panel:
    """Draw the line of filters, each of which can be clicked, and where the cursor is.

    Args:
        wanted: what is looked for.
        shown: exercises that are listed.
        of: exercises there are.
        at: the cursor's place among those listed, from 0.
        width: cells of the line.
        keys: for each filter its key's name.
    """
    builder, zones = RowBuilder(width), []
    chips = (
        ("tag", wanted.tag or "any", bool(wanted.tag), "choose_tag"),
        ("key", wanted.key or "any", bool(wanted.key), "choose_key"),
        ("target", wanted.band.title if wanted.band else "any", wanted.band is not None, "choose_band"),
        ("due", "today" if wanted.due else "any", wanted.due, "toggle_due"),
    )
    where = f"{min(at + 1, shown)} of {shown}" + (f" ({of} in all)" if shown != of else "")
    end = width - len(where) - 2
    x = 1
    for name, value, narrowed, call in chips:
        key = keys.get(name, "")
        if x + len(key) + len(name) + 5 > end:
            break
        begin = x
        x = builder.put(x, f"{key} ", ink.STRONG, end)
        x = builder.put(x, f"{name} ", ink.QUIET, end)
        x = put_cut(builder, x, value, ink.STRONG if narrowed else ink.PLAIN, min(end, x + 18))
        zones.append(Zone(0, begin, x, call))
        x += 2
    builder.put(width - len(where) - 1, where, ink.QUIET)
    return Panel((builder.row(),), tuple(zones))


def detail_rows(
    entry: Entry | None,
    lines: "Sequence[LineRecord]",
    today: date,
    *,
    width: int,
    height: int,
    pen: Pen,
    hidden: str = "",
) -> tuple[CellRow, ...]:
    """Describe the chosen exercise, as far as there is room.

    Args:
        entry: the exercise; None when none is chosen.
        lines: what the log says about its lines.
        today: the day of practice.
        width: cells of a row.
        height: rows.
        pen: the characters.
        hidden: the earlier file that has the same id; empty when there is none.
    """
    if entry is None:
        return tuple(RowBuilder(width).row() for _ in range(height))
    head = entry.head
    texts: list[tuple[str, str]] = [(head.title, ink.HEAD)]
    facts = [head.by and f"by {head.by}", head.key, head.meter, _tempo(entry, pen), ", ".join(head.tags)]
    told = f" {pen.dot} ".join(fact for fact in facts if fact)
    if entry.wrong:
        texts += [(line, ink.MARK) for line in wrapped(_without_place(entry.wrong, head.file), width - 2)]
        told = "It is read again as soon as the file is changed."
        texts += [(line, ink.QUIET) for line in wrapped(told, width - 2)]
    elif hidden:
        told = f"{hidden} has the id {head.id} too, and comes first. Give this file another id to open it."
        texts += [(line, ink.MARK) for line in wrapped(told, width - 2)]
    elif height <= 4:
        texts.append((told, ink.PLAIN))
        texts += [(line, ink.STRONG) for line in asked_rows(entry.to_do[:1], today)]
        texts.append((("riffs: " + ", ".join(head.riffs)) if head.riffs else "no riffs yet", ink.QUIET))
    else:
        texts += [(line, ink.PLAIN) for line in wrapped(told, width - 2)]
        if entry.asked:
            texts.append(("", ink.PLAIN))
            texts += [
                (line, ink.STRONG) for said in asked_rows(entry.asked, today) for line in wrapped(said, width - 2)
            ]
        texts += _riffs(entry, lines, width, today)
    if height > 4:
        texts.append(("", ink.PLAIN))
        texts += [(line, ink.QUIET) for line in wrapped(head.file, width - 2)]
    rows = []
    for number in range(height):
        builder = RowBuilder(width)
        if number < len(texts):
            put_cut(builder, 1, *texts[number], width - 1)
        rows.append(builder.row())
    return tuple(rows)


def _tempo(entry: Entry, pen: Pen) -> str:
    start, target = entry.head.start_bpm, entry.head.target_bpm
    return f"{start:g} {pen.arrow} {target:g} bpm" if start != target else f"{target:g} bpm"


def _riffs(entry: Entry, lines: "Sequence[LineRecord]", width: int, today: date) -> list[tuple[str, str]]:
    """List every riff, and below it the record of each part."""
    texts: list[tuple[str, str]] = []
    if entry.record:
        record = entry.record
        judged = record.clean + record.missed
        share = f", {record.clean / judged:.0%} clean" if judged else ""
        texts += [
            ("", ink.PLAIN),
            (f"{passes_words(record.passes)}{share}, {minutes_words(record.seconds)}", ink.PLAIN),
        ]
    texts.append(("", ink.PLAIN))
    known = dict.fromkeys([*entry.head.riffs, *(line.line.riff for line in lines)])
    for riff in known:
        texts.append((riff or "the whole form", ink.STRONG))
        for line in lines:
            if line.line.riff == riff:
                best = f"{line.best_bpm:.0f}" if line.best_bpm else "-"
                due = due_words(line.due, today)
                texts.append((f"  {line.line.part:<12}{best:>4}  {due}", ink.QUIET))
    return texts
