"""The logbook's views, drawn whole for a size: progress of a line, what takes measured, the days, everything small."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trainer.practice.progress import clean_share
from trainer.practice.reading import DayRecord
from trainer.screens.drawing import ink
from trainer.screens.drawing.calendar_rows import LINES, calendar_rows, day_sentence, legend, span_for
from trainer.screens.drawing.day_words import minutes_words
from trainer.screens.drawing.goal_rows import KnownGoal, short_word
from trainer.screens.drawing.ink import Row, RowBuilder, plain_row
from trainer.screens.drawing.logbook_rows import line_sentences, line_title
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.plot import Curve, draw_plot
from trainer.screens.drawing.table_row import put_cut
from trainer.screens.drawing.take_rows import WHAT, days_table, has_takes, tempos_table
from trainer.screens.drawing.wrapping import wrapped
from trainer.screens.drawing.zones import Panel
from trainer.screens.logbook_facts import LineFacts, RecordFacts

LEAST_PLOT = 6
"""Rows that a plot takes at least."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure that takes measure."""

    name: str
    title: str
    target: float = 0.0
    """What is written; 0 where nothing is."""


FIGURES = (
    Figure("spread_ms", "spread in ms: how far strokes scatter"),
    Figure("bias_ms", "bias in ms: early below 0, late above"),
    Figure("gallop_ratio", "gallop, long to short", 2.0),
    Figure("clean_notes", "clean notes, as a share of those written"),
)
"""Those that can be plotted over the days, in turn."""


def told(text: str, width: int, kind: str = ink.PLAIN, x: int = 1) -> list[Row]:
    """A sentence as rows."""
    rows = []
    for line in wrapped(text, max(8, width - x - 1)):
        builder = RowBuilder(width)
        builder.put(x, line, kind)
        rows.append(builder.row())
    return rows


def heading(text: str, width: int) -> Row:
    """A heading, cut where it is too long."""
    builder = RowBuilder(width)
    put_cut(builder, 1, text, ink.HEAD, width - 1)
    return builder.row()


def progress_view(facts: LineFacts, title: str, today: date, *, width: int, height: int, pen: Pen) -> tuple[Row, ...]:
    """Best clean tempo over time against the target, and what there is to say of it."""
    blank = plain_row("", width)
    sentences = [row for text in line_sentences(facts, today) for row in told(text, width)]
    head = heading(line_title(facts.line, title, pen), width)
    room = height - 3 - len(sentences)
    if not facts.curve.points:
        return (head, blank, *sentences)[:height]
    if room < LEAST_PLOT:
        sentences = sentences[: max(1, height - 3 - LEAST_PLOT)]
        room = height - 3 - len(sentences)
    unit = plain_row(" best clean tempo in bpm, by day and so far", width, ink.LABEL)
    return (head, unit, *draw_plot(facts.curve, width, room, pen), blank, *sentences)[:height]


def takes_view(facts: LineFacts, title: str, figure: int, *, width: int, height: int, pen: Pen) -> tuple[Row, ...]:
    """What takes measured, over time and against tempo; one figure is plotted where there is room."""
    blank = plain_row("", width)
    head = heading(line_title(facts.line, title, pen), width)
    if not has_takes(facts.days):
        what = "No take measured this line. Takes are recorded passes, from MIDI or from audio."
        return (head, blank, *told(what, width))[:height]
    rows = [head]
    shown = FIGURES[figure % len(FIGURES)]
    values = tuple((day.day, float(value)) for day in facts.days if (value := getattr(day, shown.name)) is not None)
    foot = told(WHAT, width, ink.QUIET)
    room = height - len(foot) - 2
    if room >= 22 and values:
        rows.append(plain_row(f" {shown.title}", width, ink.LABEL))
        rows += draw_plot(Curve(values, (), shown.target), width, room // 2, pen)
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


def beside(left: Sequence[Row], right: Sequence[Row], x: int, width: int) -> list[Row]:
    """Two blocks of rows, one at the left and one from cell `x` on."""
    rows = []
    for number in range(max(len(left), len(right))):
        one = left[number] if number < len(left) else plain_row("", x)
        other = right[number] if number < len(right) else plain_row("", width - x)
        rows.append(Row((*one.chars[:x], *other.chars[: width - x]), one.inks[:x] + other.inks[: width - x]))
    return rows


def days_view(facts: RecordFacts, chosen: date | None, today: date, *, width: int, height: int, pen: Pen) -> Panel:
    """The calendar with the chosen day's figures, what was played in all, and the last weeks as bars."""
    span = span_for(width, chosen or today, today)
    drawn = calendar_rows(facts.days, span, chosen, today, width=width, pen=pen)
    blank = plain_row("", width)
    rows = [*drawn.rows, legend(width, pen), blank]
    if chosen is not None:
        rows += [*told(day_sentence(chosen, facts.days.get(chosen)), width, ink.STRONG), blank]
    for text in record_sentences(facts):
        rows += told(text, width)
    rows.append(blank)
    rows += _weeks(facts.days, today, width, max(0, height - len(rows)), pen)
    return Panel(tuple(rows[:height]), tuple(zone for zone in drawn.zones if zone.row < min(height, LINES)))


def record_sentences(facts: RecordFacts) -> tuple[str, ...]:
    """What was played in all, and the streak."""
    totals, streak = facts.totals, facts.streak
    share = clean_share(totals.clean, totals.missed)
    judged = f", {share:.0%} of the judged ones clean" if share is not None else ""
    days = f"{streak.now} day{'' if streak.now == 1 else 's'}"
    return (
        f"In all: {totals.passes} passes, {minutes_words(totals.seconds)}{judged}.",
        f"Days of practice in a row: {days}; at the longest {streak.longest}.",
    )


def _weeks(days: Mapping[date, DayRecord], today: date, width: int, most: int, pen: Pen) -> list[Row]:
    """The minutes of the last weeks, this one first."""
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
) -> tuple[Row, ...]:
    """Beside a line's progress in a wide window: the calendar, everything in all, and the goals."""
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
        rows += told("None yet. Choose a riff and a part, and press a.", width, ink.QUIET)
    return tuple(rows[:height])
