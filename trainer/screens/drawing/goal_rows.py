"""Goals as rows: what is wanted, by when, what the record says; and a chosen one's forecast as a stretch of time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainer.practice.forecast import Forecast, Prospect
from trainer.practice.goals import Goal, GoalState
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.table_row import Column, Placed, put_cell, put_cut
from trainer.screens.drawing.wrapping import wrapped

COLUMNS = (
    Column("exercise", "exercise", 0),
    Column("riff", "riff", 16, least=70),
    Column("part", "part", 9, least=90),
    Column("target", "bpm", 4, right=True),
    Column("by", "by", 10, least=56),
    Column("says", "the record says", 22),
)


@dataclass(frozen=True, slots=True)
class KnownGoal:
    """A goal with what there is to say of it."""

    goal: Goal
    title: str
    """The exercise's title; its id where it has no file."""
    forecast: Forecast | None = None
    """None for one that is no longer kept, or not computed yet."""


def goal_row(known: KnownGoal, placed: Sequence[Placed], width: int, pen: Pen, chosen: bool) -> Row:
    """One goal."""
    builder = RowBuilder(width)
    goal = known.goal
    if chosen:
        builder.put(0, pen.chosen, ink.STRONG)
    kept = goal.state is GoalState.KEPT
    first = ink.PLAIN if kept else ink.QUIET
    cells = {
        "exercise": (known.title, ink.STRONG if chosen else first),
        "riff": (goal.line.riff or "the whole form", first),
        "part": (goal.line.part, first),
        "target": (f"{goal.target_bpm:g}", first),
        "by": (goal.by.isoformat() if goal.by else "-", ink.QUIET),
        "says": (short_word(known), ink.PLAIN if kept else ink.QUIET),
    }
    for each in placed:
        put_cell(builder, each, *cells[each.column.name])
    return builder.row()


def short_word(known: KnownGoal) -> str:
    """The forecast, or what became of the goal, in a few words."""
    goal, says = known.goal, known.forecast
    if goal.state is not GoalState.KEPT:
        when = goal.changed_at or goal.set_at
        return f"{goal.state} {when.astimezone().date().isoformat()}"
    if says is None:
        return "..."
    if says.prospect is Prospect.DATED and says.likely:
        sure = f" ({says.chance_by:.0%} by then)" if says.chance_by is not None else ""
        return f"{says.likely.isoformat()}{sure}"
    return says.prospect.value


def forecast_rows(known: KnownGoal, today: date, width: int, pen: Pen) -> tuple[Row, ...]:
    """What the record says of the chosen goal, in words, and as a stretch of time where it points to a date."""
    goal, says = known.goal, known.forecast
    title = RowBuilder(width)
    x = put_cut(title, 1, f"{known.title} {pen.dot} {goal.line.riff or 'the whole form'}", ink.HEAD, width - 1)
    put_cut(title, x + 2, f"{goal.line.part}, {goal.target_bpm:g} bpm", ink.PLAIN, width - 1)
    rows = [title.row()]
    if goal.state is not GoalState.KEPT or says is None:
        told = f"This goal was {goal.state}." if goal.state is not GoalState.KEPT else ""
        return (*rows, *_lines([told], width))
    rows += _lines(wrapped(says.sentence(), width - 2), width)
    if says.prospect is Prospect.DATED and says.early and says.likely:
        rows += _stretch(says, goal.by, today, width, pen)
    return tuple(rows)


def _lines(texts: Sequence[str], width: int) -> list[Row]:
    rows = []
    for text in texts:
        builder = RowBuilder(width)
        builder.put(1, text, ink.PLAIN)
        rows.append(builder.row())
    return rows


def _stretch(says: Forecast, by: date | None, today: date, width: int, pen: Pen) -> list[Row]:
    """A line of time from today on: four chances in five filled, the likely date marked, the wanted one named."""
    if says.likely is None or says.early is None:
        return []
    late = says.late or today + timedelta(days=730)
    end = max(late, by or late) + timedelta(days=max(2, (late - today).days // 12))
    left, right = 1, width - 2
    line, names = RowBuilder(width), RowBuilder(width)

    def x_of(day: date) -> int:
        return left + round((day - today).days / max(1, (end - today).days) * (right - left))

    line.fill(left, right + 1, pen.string, ink.LINE)
    line.fill(x_of(says.early), x_of(late) + 1, pen.full, ink.MARK)
    line.put(x_of(says.likely), pen.block, ink.STRONG)
    marks = [(x_of(today), "today"), (x_of(says.likely), f"likely {says.likely.isoformat()}")]
    if by is not None and by >= today:
        line.put(x_of(by), pen.playhead, ink.STRONG)
        marks.append((x_of(by), f"wanted {by.isoformat()}"))
    free = 1
    for x, name in sorted(marks):
        at = min(max(free, x - len(name) // 2), width - len(name) - 1)
        if at >= free:
            free = names.put(at, name, ink.QUIET) + 2
    return [line.row(), names.row()]
