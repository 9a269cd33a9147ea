"""The logbook's rows: its list of exercises and lines, its views by name, and what is told of a line."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from trainer.practice.forecast import Prospect
from trainer.practice.line import Line
from trainer.practice.progress import clean_share
from trainer.practice.reading import ExerciseRecord, LineRecord
from trainer.screens.drawing import ink
from trainer.screens.drawing.day_words import ago, due_words, minutes_words
from trainer.screens.drawing.ink import Row, RowBuilder
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.shelf_rows import last_day
from trainer.screens.drawing.table_row import put_cut
from trainer.screens.drawing.zones import Panel, Zone
from trainer.screens.logbook_facts import LineFacts

VIEWS = ("progress", "takes", "days", "goals")
"""What the logbook can show, in the order of its keys."""
FORESEEN = (Prospect.DATED, Prospect.OUT_OF_SIGHT)
"""What is worth telling of a target; the others are told already."""


@dataclass(frozen=True, slots=True)
class Item:
    """A row of the list: an exercise, or, under the open one, one of its lines."""

    exercise: str
    title: str
    record: ExerciseRecord | None = None
    line: LineRecord | None = None


def item_row(item: Item, today: date, *, width: int, pen: Pen, chosen: bool) -> Row:
    """One row of the list."""
    builder = RowBuilder(width)
    if chosen:
        builder.put(0, pen.chosen, ink.STRONG)
    if item.line is not None:
        part, kind = f", {item.line.line.part}", ink.STRONG if chosen else ink.PLAIN
        best = f"{item.line.best_bpm:.0f}" if item.line.best_bpm else "-"
        x = put_cut(builder, 4, item.line.line.riff or "the whole form", kind, max(8, width - 6 - len(part)))
        put_cut(builder, x, part, kind, width - 6)
        put_cut(builder, width - 5, best, ink.PLAIN, width - 1, right=True)
        return builder.row()
    when = ago(last_day(item.record.last_ms), today) if item.record else ""
    when = when.replace(" days ago", " d")
    put_cut(builder, 2, item.title, ink.STRONG if chosen else ink.LABEL, width - len(when) - 2)
    builder.put(width - len(when) - 1, when, ink.QUIET)
    return builder.row()


def view_line(view: str, keys: Sequence[str], width: int) -> Panel:
    """The views by name; the one that is shown stands out and is bracketed."""
    builder, zones, x = RowBuilder(width), [], 1
    for name, key in zip(VIEWS, keys, strict=True):
        begin = x
        if name == view:
            x = builder.put(x, f"[{name}]", ink.STRONG)
        else:
            x = builder.put(x, f"{key} ", ink.STRONG)
            x = builder.put(x, name, ink.QUIET)
        zones.append(Zone(0, begin, x, f"view('{name}')"))
        x += 3
    return Panel((builder.row(),), tuple(zones))


def line_title(line: Line, title: str, pen: Pen) -> str:
    """A line's name in full."""
    return f"{title} {pen.dot} {line.riff or 'the whole form'} {pen.dot} {line.part}"


def line_sentences(facts: LineFacts, today: date) -> tuple[str, ...]:
    """What the record says of a line, the most important first."""
    record = facts.record
    if record is None:
        return ("Nothing is recorded of it yet.",)
    told = [_counts(record), _tempos(facts, today)]
    if facts.outlook is not None and facts.outlook.prospect in FORESEEN:
        sentence = facts.outlook.sentence()
        told.append(f"{facts.target_bpm:g} bpm: {sentence[0].lower()}{sentence[1:]}")
    if facts.stall:
        held = facts.stall
        told.append(
            f"It stalls: no worthwhile rise since {held.since.isoformat()}, in {held.days} days and "
            f"{held.passes} judged passes. Try fewer bars, a burst, or the other part."
        )
    if facts.sticking:
        told.append(f"It sticks at {facts.sticking} bpm: more passes missed than clean there.")
    if facts.hard_bar:
        told.append(f"Bar {facts.hard_bar} stumbles most: play it alone first.")
    if len(facts.versions) > 1:
        told.append(
            f"The riff was changed: {len(facts.versions)} versions were played, the last one "
            f"{facts.versions[-1].passes} times."
        )
    return tuple(told)


def _counts(record: LineRecord) -> str:
    share = clean_share(record.clean, record.missed)
    judged = f"{share:.0%} clean" if share is not None else "none judged"
    return f"{record.passes} pass{'' if record.passes == 1 else 'es'}, {judged}, {minutes_words(record.seconds)}."


def _tempos(facts: LineFacts, today: date) -> str:
    record = facts.record
    if record is None or not record.best_bpm:
        return "No clean whole pass yet."
    told = f"Best clean tempo {record.best_bpm:.0f} bpm"
    if facts.target_bpm:
        whose = "the goal" if facts.from_goal else "the target"
        told += f", {record.best_bpm / facts.target_bpm:.0%} of {whose} of {facts.target_bpm:g}"
    due = due_words(record.due, today)
    if record.due is not None and record.due > today:
        due = f"due {due}"
    return f"{told}. Last played {ago(last_day(record.last_ms), today)}" + (f"; {due}." if due else ".")
