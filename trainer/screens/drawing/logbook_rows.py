"""The logbook drawn: its list, its views for a size, sentences about a line, goals with their forecasts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Protocol

from trainer.practice.forecast import Forecast, Prospect
from trainer.practice.goals import GoalState
from trainer.practice.line import Line
from trainer.practice.progress import clean_share
from trainer.practice.reading import DayRecord, LineDay, LineRecord, LineTempo
from trainer.screens.drawing import ink
from trainer.screens.drawing.calendar import LINES, calendar_rows, day_sentence, legend, span_for
from trainer.screens.drawing.day_words import ago, days_words, due_words, minutes_words, passes_words
from trainer.screens.drawing.ink import CellRow, Panel, RowBuilder, Zone, plain_row
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.plot import PlotData, draw_plot
from trainer.screens.drawing.prose import wrapped
from trainer.screens.drawing.shelf_rows import last_day
from trainer.screens.drawing.tables import Placed, TableColumn, place, put_cell, put_cut
from trainer.screens.logbook_record import Item, KnownGoal, LineFacts, RecordFacts

# -- the list, and sentences about a line --------------------------------------------------------------------------

VIEWS = ("progress", "takes", "days", "goals")
"""The logbook's views, in the order of their keys."""
FORESEEN = (Prospect.DATED, Prospect.OUT_OF_SIGHT)
"""Forecasts worth a sentence of their own; the others are covered by other sentences."""


def item_row(item: Item, today: date, *, width: int, pen: Pen, chosen: bool) -> CellRow:
    """Draw one row of the list."""
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
    """Draw the names of the views; the current one stands out in brackets."""
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
    """Write a line's name in full."""
    return f"{title} {pen.dot} {line.riff or 'the whole form'} {pen.dot} {line.part}"


def line_sentences(facts: LineFacts, today: date) -> tuple[str, ...]:
    """Say what the record tells about a line, the most important first."""
    record = facts.record
    if record is None:
        return ("Nothing is recorded of it yet.",)
    told = [_passes_sentence(record), _tempo_sentence(facts, today)]
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
        told.append(f"Stuck at {facts.sticking} bpm: more passes missed than clean there.")
    if facts.hard_bar:
        told.append(f"Bar {facts.hard_bar} stumbles most: play it alone first.")
    if len(facts.versions) > 1:
        told.append(
            f"The riff was changed: {len(facts.versions)} versions were played, the last one "
            f"{facts.versions[-1].passes} times."
        )
    return tuple(told)


def _passes_sentence(record: LineRecord) -> str:
    share = clean_share(record.clean, record.missed)
    judged = f"{share:.0%} clean" if share is not None else "none judged"
    return f"{passes_words(record.passes)}, {judged}, {minutes_words(record.seconds)}."


def _tempo_sentence(facts: LineFacts, today: date) -> str:
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


# -- what takes measured -------------------------------------------------------------------------------------------

MEASURED = (
    TableColumn("passes", "passes", 6, right=True),
    TableColumn("share", "clean", 5, right=True),
    TableColumn("bias", "bias", 5, right=True),
    TableColumn("spread", "spread", 6, right=True),
    TableColumn("gallop", "ratio", 5, right=True),
    TableColumn("notes", "notes", 5, right=True),
)
WHAT = (
    "Clean: of the judged passes. Bias: ms early (-) or late (+); spread: ms around that. "
    "Ratio: the gallop's long to short, 2 as written. Notes: clean ones."
)
"""What the headings mean."""


class TakeFigures(Protocol):
    """What takes measured on one day or at one tempo."""

    @property
    def passes(self) -> int: ...  # noqa: D102
    @property
    def clean(self) -> int: ...  # noqa: D102
    @property
    def missed(self) -> int: ...  # noqa: D102
    @property
    def bias_ms(self) -> float | None: ...  # noqa: D102
    @property
    def spread_ms(self) -> float | None: ...  # noqa: D102
    @property
    def gallop_ratio(self) -> float | None: ...  # noqa: D102
    @property
    def clean_notes(self) -> float | None: ...  # noqa: D102


def has_takes(days: Sequence[LineDay]) -> bool:
    """Whether anything was measured."""
    return any(day.bias_ms is not None or day.clean_notes is not None for day in days)


def days_table(days: Sequence[LineDay], width: int, height: int) -> tuple[CellRow, ...]:
    """Draw the days, newest first, as many as fit."""
    rows = [(day.day.isoformat(), day) for day in reversed(days)]
    return _table(TableColumn("day", "day", 10), rows, width, height)


def tempos_table(tempos: Sequence[LineTempo], width: int, height: int) -> tuple[CellRow, ...]:
    """Draw the tempos, fastest first, as many as fit."""
    rows = [(f"{tempo.tempo_bpm} bpm", tempo) for tempo in reversed(tempos)]
    return _table(TableColumn("tempo", "tempo", 10), rows, width, height)


def _table(first: TableColumn, rows: Sequence[tuple[str, TakeFigures]], width: int, height: int) -> tuple[CellRow, ...]:
    columns: tuple[TableColumn, ...] = (first, *MEASURED)
    if sum(column.width + 1 for column in columns) + 3 > width:
        columns = tuple(column for column in columns if column.name != "passes")
    # closer than other tables, so that two stand side by side in 80 cells
    placed, x = [], 1
    for each in place(columns, width):
        placed.append(type(each)(each.column, x, x + each.column.width))
        x += each.column.width + 1
    head = RowBuilder(width)
    for each in placed:
        put_cell(head, each, each.column.heading, ink.QUIET)
    answer = [head.row()]
    for name, figures in rows[: max(0, height - 1)]:
        builder = RowBuilder(width)
        texts = {first.name: name, **_measured_cells(figures)}
        for each in placed:
            put_cell(builder, each, texts[each.column.name], ink.LABEL if each.column is first else ink.PLAIN)
        answer.append(builder.row())
    return tuple(answer)


def _measured_cells(figures: TakeFigures) -> dict[str, str]:
    share = clean_share(figures.clean, figures.missed)
    return {
        "passes": str(figures.passes),
        "share": "-" if share is None else f"{share:.0%}",
        "bias": "-" if figures.bias_ms is None else f"{figures.bias_ms:+.0f}",
        "spread": "-" if figures.spread_ms is None else f"{figures.spread_ms:.0f}",
        "gallop": "-" if figures.gallop_ratio is None else f"{figures.gallop_ratio:.2f}",
        "notes": "-" if figures.clean_notes is None else f"{figures.clean_notes:.0%}",
    }


# -- goals ---------------------------------------------------------------------------------------------------------

GOAL_COLUMNS = (
    TableColumn("exercise", "exercise", 0),
    TableColumn("riff", "riff", 16, least=70),
    TableColumn("part", "part", 9, least=90),
    TableColumn("target", "bpm", 4, right=True),
    TableColumn("by", "by", 10, least=56),
    TableColumn("says", "the record says", 22),
)


def goal_row(known: KnownGoal, placed: Sequence[Placed], width: int, pen: Pen, chosen: bool) -> CellRow:
    """Draw one goal."""
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
    """Say in a few words when a goal will be reached, or what became of it."""
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


def forecast_rows(known: KnownGoal, today: date, width: int, pen: Pen) -> tuple[CellRow, ...]:
    """Draw the forecast of a goal: in words, and as a line of time if it points to a date."""
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


def _lines(texts: Sequence[str], width: int) -> list[CellRow]:
    rows = []
    for text in texts:
        builder = RowBuilder(width)
        builder.put(1, text, ink.PLAIN)
        rows.append(builder.row())
    return rows


def _stretch(says: Forecast, by: date | None, today: date, width: int, pen: Pen) -> list[CellRow]:
    """Draw a line of time from today on: the 80 % range filled, the likely date marked, the wanted one named."""
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


# -- the views -----------------------------------------------------------------------------------------------------

LEAST_PLOT = 6
"""The fewest rows of a plot."""


@dataclass(frozen=True, slots=True)
class TakeFigure:
    """A figure that takes measure."""

    name: str
    title: str
    target: float = 0.0
    """The value that is written; 0 for none."""


FIGURES = (
    TakeFigure("spread_ms", "spread in ms: how far strokes scatter"),
    TakeFigure("bias_ms", "bias in ms: early below 0, late above"),
    TakeFigure("gallop_ratio", "gallop, long to short", 2.0),
    TakeFigure("clean_notes", "clean notes, as a share of those written"),
)
"""The figures that can be plotted over the days, in turn."""


def text_rows(text: str, width: int, kind: str = ink.PLAIN, x: int = 1) -> list[CellRow]:
    """Draw a sentence as rows."""
    rows = []
    for line in wrapped(text, max(8, width - x - 1)):
        builder = RowBuilder(width)
        builder.put(x, line, kind)
        rows.append(builder.row())
    return rows


def heading(text: str, width: int) -> CellRow:
    """Draw a heading, cut if it is too long."""
    builder = RowBuilder(width)
    put_cut(builder, 1, text, ink.HEAD, width - 1)
    return builder.row()


def progress_view(
    facts: LineFacts, title: str, today: date, *, width: int, height: int, pen: Pen
) -> tuple[CellRow, ...]:
    """Draw the best clean tempo over time against the target, with sentences about it."""
    blank = plain_row("", width)
    sentences = [row for text in line_sentences(facts, today) for row in text_rows(text, width)]
    head = heading(line_title(facts.line, title, pen), width)
    room = height - 3 - len(sentences)
    if not facts.curve.points:
        return (head, blank, *sentences)[:height]
    if room < LEAST_PLOT:
        sentences = sentences[: max(1, height - 3 - LEAST_PLOT)]
        room = height - 3 - len(sentences)
    unit = plain_row(" best clean tempo in bpm, by day and so far", width, ink.LABEL)
    return (head, unit, *draw_plot(facts.curve, width, room, pen), blank, *sentences)[:height]


def takes_view(facts: LineFacts, title: str, figure: int, *, width: int, height: int, pen: Pen) -> tuple[CellRow, ...]:
    """Draw what takes measured, over time and against tempo; one figure is plotted if there is room."""
    blank = plain_row("", width)
    head = heading(line_title(facts.line, title, pen), width)
    if not has_takes(facts.days):
        what = "No take measured this line. Takes are recorded passes, from MIDI or from audio."
        return (head, blank, *text_rows(what, width))[:height]
    rows = [head]
    shown = FIGURES[figure % len(FIGURES)]
    values = tuple((day.day, float(value)) for day in facts.days if (value := getattr(day, shown.name)) is not None)
    foot = text_rows(WHAT, width, ink.QUIET)
    room = height - len(foot) - 2
    if room >= 22 and values:
        rows.append(plain_row(f" {shown.title}", width, ink.LABEL))
        rows += draw_plot(PlotData(values, (), shown.target), width, room // 2, pen)
        room -= room // 2 + 1
    rows.append(blank)
    left = width // 2 if width >= 90 else width
    if left < width:
        rows += beside(days_table(facts.days, left, room), tempos_table(facts.tempos, width - left, room), left, width)
    else:
        half = max(3, room // 2)
        rows += [*days_table(facts.days, width, half), *tempos_table(facts.tempos, width, room - half)]
    rows += [blank] * max(0, height - len(rows) - len(foot))
    return (*rows[: height - len(foot)], *foot)


def beside(left: Sequence[CellRow], right: Sequence[CellRow], x: int, width: int) -> list[CellRow]:
    """Join two blocks of rows, one at the left and one from cell `x` on."""
    rows = []
    for number in range(max(len(left), len(right))):
        one = left[number] if number < len(left) else plain_row("", x)
        other = right[number] if number < len(right) else plain_row("", width - x)
        rows.append(CellRow((*one.chars[:x], *other.chars[: width - x]), one.inks[:x] + other.inks[: width - x]))
    return rows


def days_view(facts: RecordFacts, chosen: date | None, today: date, *, width: int, height: int, pen: Pen) -> Panel:
    """Draw the calendar with the chosen day's figures, the totals, and the last weeks as bars."""
    span = span_for(width, chosen or today, today)
    drawn = calendar_rows(facts.days, span, chosen, today, width=width, pen=pen)
    blank = plain_row("", width)
    rows = [*drawn.rows, legend(width, pen), blank]
    if chosen is not None:
        rows += [*text_rows(day_sentence(chosen, facts.days.get(chosen)), width, ink.STRONG), blank]
    for text in record_sentences(facts):
        rows += text_rows(text, width)
    rows.append(blank)
    rows += _weeks(facts.days, today, width, max(0, height - len(rows)), pen)
    return Panel(tuple(rows[:height]), tuple(zone for zone in drawn.zones if zone.row < min(height, LINES)))


def record_sentences(facts: RecordFacts) -> tuple[str, ...]:
    """Say what was played in all, and the streak."""
    totals, streak = facts.totals, facts.streak
    share = clean_share(totals.clean, totals.missed)
    judged = f", {share:.0%} of the judged ones clean" if share is not None else ""
    return (
        f"In all: {passes_words(totals.passes)}, {minutes_words(totals.seconds)}{judged}.",
        f"Days of practice in a row: {days_words(streak.now)}; at the longest {streak.longest}.",
    )


def _weeks(days: Mapping[date, DayRecord], today: date, width: int, most: int, pen: Pen) -> list[CellRow]:
    """Draw the minutes of the last weeks, this one first."""
    monday = today - timedelta(days=today.weekday())
    weeks: dict[date, float] = {monday - timedelta(days=7 * number): 0.0 for number in range(max(0, min(most, 26) - 1))}
    for day, record in days.items():
        week = day - timedelta(days=day.weekday())
        if week in weeks:
            weeks[week] += record.seconds / 60
    longest = max(weeks.values(), default=0.0)
    if not longest:
        return []
    rows = [plain_row(" minutes by week", width, ink.LABEL)]
    for week, minutes in weeks.items():
        builder = RowBuilder(width)
        x = builder.put(1, f"{week.isoformat()} {minutes:5.0f} ", ink.QUIET)
        builder.put(x, pen.full * round(minutes / longest * min(40, width - x - 2)), ink.MARK)
        rows.append(builder.row())
    return rows


def aside_view(  # noqa: PLR0917 - everything, small
    facts: RecordFacts, goals: Sequence[KnownGoal], today: date, width: int, height: int, pen: Pen
) -> tuple[CellRow, ...]:
    """Draw what a wide window shows beside a line's progress: the calendar, the totals and the goals."""
    days = days_view(facts, None, today, width=width, height=min(height, 24), pen=pen).rows
    rows = [*days, plain_row("", width), heading("Goals", width)]
    for known in goals:
        if len(rows) + 2 > height:
            break
        builder = RowBuilder(width)
        says = short_word(known)
        put_cut(builder, 1, f"{known.goal.target_bpm:g}  {known.title}", ink.PLAIN, width - len(says) - 2)
        builder.put(width - len(says) - 1, says, ink.QUIET)
        rows.append(builder.row())
        second = RowBuilder(width)
        put_cut(second, 6, f"{known.goal.line.riff or 'the whole form'}, {known.goal.line.part}", ink.QUIET, width - 1)
        rows.append(second.row())
    if not goals:
        rows += text_rows("None yet. Choose a riff and a part, and press a.", width, ink.QUIET)
    return tuple(rows[:height])
