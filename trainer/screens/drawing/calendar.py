"""A calendar of practice: a column for each week, a row for each day of it, filled the more the longer was played."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from trainer.practice.reading import DayRecord
from trainer.screens.drawing import ink
from trainer.screens.drawing.day_words import minutes_words
from trainer.screens.drawing.ink import CellRow, Panel, RowBuilder, Zone
from trainer.screens.drawing.pen import Pen

LEVELS = (0, 1, 15, 30, 60)
"""Minutes from which a day gets the next fuller glyph; house rule: quarter, half and whole hours."""
DAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LEFT = 5
WEEK = 3
"""Cells of a week: two for the day and one between."""
LINES = 8
"""The months' names and seven days."""


@dataclass(frozen=True, slots=True)
class WeeksInView:
    """The weeks in view."""

    first: date
    """A Monday."""
    weeks: int

    @property
    def last(self) -> date:
        """Its last Sunday."""
        return self.first + timedelta(days=7 * self.weeks - 1)


def span_for(width: int, around: date, today: date) -> WeeksInView:
    """The weeks that fit a width: up to this week, or up to an earlier one so that a day is in view."""
    weeks = max(1, (width - LEFT - 1) // WEEK)
    end = max(today if (today - around).days < 7 * (weeks - 1) else around, around)
    monday = end - timedelta(days=end.weekday())
    return WeeksInView(monday - timedelta(days=7 * (weeks - 1)), weeks)


def level(seconds: float) -> int:
    """How full a day's glyph is, from 0 to 4; any playing at all gives at least 1."""
    minutes = seconds / 60
    if minutes <= 0:
        return 0
    return max(1, sum(minutes >= least for least in LEVELS) - 1)


def calendar_rows(
    days: Mapping[date, DayRecord], span: WeeksInView, chosen: date | None, today: date, *, width: int, pen: Pen
) -> Panel:
    """Draw the calendar; a click on a day chooses it.

    Args:
        days: what was played, by day.
        span: the weeks in view.
        chosen: the day the cursor is on; None when the calendar is only looked at.
        today: days after it are left empty.
        width: cells of a row.
        pen: the characters.
    """
    glyphs = pen.days
    builders = [RowBuilder(width) for _ in range(LINES)]
    zones: list[Zone] = []
    _months(builders[0], span)
    for number in range(7):
        builder = builders[number + 1]
        if number % 2 == 0:
            builder.put(1, DAY_NAMES[number], ink.QUIET)
        for week in range(span.weeks):
            day = span.first + timedelta(days=7 * week + number)
            if day > today:
                continue
            played = days.get(day)
            full = level(played.seconds if played else 0)
            x = LEFT + WEEK * week
            builder.put(x, glyphs[full] * (1 if full == 0 else 2), ink.QUIET if full == 0 else ink.MARK)
            if day == chosen:
                builder.put(x - 1, "[", ink.STRONG)
                builder.put(x + 2, "]", ink.STRONG)
            zones.append(Zone(number + 1, x, x + 2, f"choose_day('{day.isoformat()}')"))
    return Panel(tuple(builder.row() for builder in builders), tuple(zones))


def _months(builder: RowBuilder, span: WeeksInView) -> None:
    end = 0
    for week in range(span.weeks):
        sunday = span.first + timedelta(days=7 * week + 6)
        if sunday.day <= 7 or week == 0:
            name = f"{sunday:%b} {sunday.year}" if sunday.month == 1 or week == 0 else f"{sunday:%b}"
            x = LEFT + WEEK * week
            if x > end:
                end = builder.put(x, name, ink.QUIET)


def legend(width: int, pen: Pen) -> CellRow:
    """Draw the key to the glyphs."""
    builder = RowBuilder(width)
    glyphs = pen.days
    x = builder.put(1, f"{glyphs[0]} none", ink.QUIET)
    for number, glyph in enumerate(glyphs[1:], 1):
        nexts = f"{LEVELS[number]}-{LEVELS[number + 1]}" if number + 1 < len(LEVELS) else f"{LEVELS[number]} and more"
        x = builder.put(x + 2, glyph * 2, ink.MARK)
        x = builder.put(x + 1, nexts, ink.QUIET)
    builder.put(x + 1, "minutes", ink.QUIET)
    return builder.row()


def day_sentence(day: date, record: DayRecord | None) -> str:
    """Say what was played on a day."""
    name = f"{DAY_NAMES[day.weekday()]} {day.isoformat()}"
    if record is None:
        return f"{name}: nothing played"
    judged = record.clean + record.missed
    share = f", {record.clean} of {judged} judged ones clean" if judged else ""
    return f"{name}: {minutes_words(record.seconds)}, {record.passes} pass{'es' if record.passes != 1 else ''}{share}"
