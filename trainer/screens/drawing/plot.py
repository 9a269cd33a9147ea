"""A plot of tempos over days: the best so far as a line, each day's best as a point, the target as a broken line.

On the target's line stands when the record says it will be reached: a bracket from the earliest to the latest day, and
a mark on the likely one.

Lines are drawn of braille dots, two by four in a cell, where the terminal has UTF-8, and of plain characters where it
has not. The axes say what stands where; nothing is told by colour alone.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor, log10

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder
from trainer.screens.drawing.pen import Pen

ACROSS, DOWN = 2, 4
"""Braille dots of a cell."""
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bits of U+2800 by row and column of a cell (Unicode 15, Braille Patterns)."""
SPARSE = 2
"""Cells per point from which on points are drawn as marks of their own, not as braille dots."""
MOST_LEVELS = 9
"""About how many values the axis names at most."""
DAYS_EACH = 40
"""Up to so many days between two names on the axis days are named, beyond that months."""
NEAR = timedelta(days=28)
"""How far ahead a day is drawn after a short record; after a longer one it is twice the record's span."""
STEPS = (1, 2, 2.5, 5, 10)
"""The steps a scale may have, times a power of ten."""


@dataclass(frozen=True, slots=True)
class Reach:
    """When a level is expected to be reached."""

    early: date
    likely: date
    late: date


@dataclass(frozen=True, slots=True)
class PlotData:
    """The data of a plot."""

    points: tuple[tuple[date, float], ...]
    """A value for each day, oldest first."""
    line: tuple[tuple[date, float], ...]
    """A line of steps through the points; empty for points alone."""
    target: float = 0.0
    """A level to reach; 0 for none."""
    unit: str = "bpm"
    until: date | None = None
    """The last day of the axis; None for the last point's day, or to make room for `reach`."""
    reach: Reach | None = None
    """When the target is expected; None if nothing can be said."""

    @property
    def ends(self) -> date:
        """The last day of the axis."""
        last = max(self.until or self.points[-1][0], self.points[-1][0], self.points[0][0] + timedelta(days=1))
        return max(last, min(self.reach.late, self._furthest)) if self.expected and self.reach else last

    @property
    def held(self) -> date:
        """The day up to which the line goes on."""
        return max(self.until or self.points[-1][0], self.points[-1][0]) if self.expected else self.ends

    @property
    def expected(self) -> bool:
        """Whether the likely day lies near enough to be drawn."""
        return self.reach is not None and self.points[-1][0] < self.reach.likely <= self._furthest

    @property
    def _furthest(self) -> date:
        first, last = self.points[0][0], self.points[-1][0]
        return last + max(2 * (last - first), NEAR)


def nice_step(span: float, most: int) -> float:
    """The smallest round step that divides a span into at most `most` parts."""
    rough = span / max(1, most)
    power = 10.0 ** floor(log10(rough)) if rough > 0 else 1.0
    return next(step * power for step in STEPS if step * power >= rough * 0.999)


def scale(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round values from `low` or below to `high` or above, about `most` at most."""
    if high - low < 1e-9:
        low, high = low - 1, high + 1
    step = nice_step(high - low, most)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return tuple(round(number * step, 10) for number in range(first, last + 1))


def day_ticks(first: date, last: date, most: int) -> tuple[tuple[date, str], ...]:
    """Days to name on an axis, about `most` at most, with their names: days, months or years, depending on the span."""
    span = max(1, (last - first).days)
    if span <= DAYS_EACH * most:
        step = max(1, ceil(span / most))
        days = [first + timedelta(days=n) for n in range(0, span + 1, step)]
        return tuple((day, f"{day.day} {day:%b}") for day in days)
    months = max(1, ceil(span / 30.44 / most))
    months = next((step for step in (1, 2, 3, 6, 12, 24, 60, 120) if step >= months), 120)
    ticks = []
    month = first.year * 12 + first.month  # the month after the first day's
    while True:
        if month % months == 0:
            day = date(month // 12, month % 12 + 1, 1)
            if day > last:
                break
            ticks.append((day, f"{day:%b %Y}" if months < 12 else f"{day.year}"))
        month += 1
        if month > last.year * 12 + last.month + months:
            break
    return tuple(ticks)


def draw_plot(curve: PlotData, width: int, height: int, pen: Pen) -> tuple[CellRow, ...]:
    """Draw the plot with its axes; empty rows if the window is too small.

    Args:
        curve: what to plot.
        width: cells.
        height: rows, of which the last one names the days.
        pen: the characters.
    """
    builders = [RowBuilder(width) for _ in range(height)]
    if not curve.points or height < 4 or width < 24:
        return tuple(builder.row() for builder in builders)
    levels = _levels(curve, height - 1)
    names = [f"{level:g}" for level in levels]
    left = max(map(len, names)) + 2
    area = _Area(curve, left, width - 1, height - 1, low=levels[0], high=levels[-1])
    _axes(builders, area, list(zip(levels, names, strict=True)), pen)
    if curve.target:
        _target(builders, area, curve, pen)
        _expected(builders, area, curve, pen)
    if pen.unicode:
        _braille(builders, area, curve)
    else:
        _plain(builders, area, curve)
    return tuple(builder.row() for builder in builders)


def _levels(curve: PlotData, rows: int) -> tuple[float, ...]:
    values = [value for _, value in (*curve.points, *curve.line)] + ([curve.target] if curve.target else [])
    return scale(min(values), max(values), max(2, min(MOST_LEVELS, rows // 2)))


class _Area:
    """Maps days and values to the cells between the axes."""

    def __init__(self, curve: PlotData, left: int, right: int, rows: int, *, low: float, high: float) -> None:
        self.left, self.right, self.rows = left, right, rows
        self.low, self.high = low, high
        self.first = curve.points[0][0]
        self.last = curve.ends

    def across(self, day: date, dots: int = 1) -> int:
        """The column of a day, with `dots` columns to a cell."""
        share = (day - self.first).days / (self.last - self.first).days
        return round(share * ((self.right - self.left) * dots - 1))

    def down(self, value: float, dots: int = 1) -> int:
        """The row of a value, with `dots` rows to a cell."""
        share = (self.high - value) / (self.high - self.low)
        return min(max(0, round(share * (self.rows * dots - 1))), self.rows * dots - 1)


def _axes(builders: list[RowBuilder], area: _Area, names: list[tuple[float, str]], pen: Pen) -> None:
    for row in range(area.rows):
        builders[row].put(area.left - 1, pen.bar, ink.LINE)
    for level, name in names:
        builder = builders[area.down(level)]
        builder.put(area.left - 2 - len(name), name, ink.QUIET)
        builder.put(area.left - 1, pen.nut, ink.LINE)
    end = 0
    foot = builders[-1]
    for day, name in day_ticks(area.first, area.last, max(2, (area.right - area.left) // 14)):
        x = min(area.left + area.across(day), area.right - len(name))
        if x > end:
            end = foot.put(x, name, ink.QUIET) + 1


def _target(builders: list[RowBuilder], area: _Area, curve: PlotData, pen: Pen) -> None:
    row = builders[area.down(curve.target)]
    row.fill(area.left, area.right, pen.span, ink.BAR)
    name = f" target {curve.target:g} "
    row.put(area.left + 1 if curve.expected else area.right - len(name) - 1, name, ink.LABEL)


def _expected(builders: list[RowBuilder], area: _Area, curve: PlotData, pen: Pen) -> None:
    if curve.reach is None or not curve.expected:
        return
    row = builders[area.down(curve.target)]
    early, likely, late = (
        area.left + area.across(min(max(day, curve.points[-1][0]), area.last))
        for day in (curve.reach.early, curve.reach.likely, curve.reach.late)
    )
    known = curve.reach.late <= area.last
    row.fill(early, late if known else area.right, pen.flat, ink.STRONG)
    row.put(early, pen.loop_start, ink.STRONG)
    if known:
        row.put(late, pen.loop_end, ink.STRONG)
    row.put(likely, pen.ahead, ink.STRONG)


def _braille(builders: list[RowBuilder], area: _Area, curve: PlotData) -> None:
    lit: dict[tuple[int, int], int] = {}
    before = None
    for day, value in (*curve.line, *((curve.held, value) for _, value in curve.line[-1:])):
        x, y = area.across(day, ACROSS), area.down(value, DOWN)
        if before is not None:
            for between in range(before[0], x):
                _light(lit, between, before[1])
            for between in range(min(before[1], y), max(before[1], y) + 1):
                _light(lit, x, between)
        _light(lit, x, y)
        before = x, y
    lined = set(lit)
    sparse = len(curve.points) * SPARSE <= area.right - area.left or not curve.line
    if not sparse:
        for day, value in curve.points:
            _light(lit, area.across(day, ACROSS), area.down(value, DOWN))
    for (x, y), bits in lit.items():
        builders[y].put(area.left + x, chr(0x2800 + bits), ink.STRONG if (x, y) in lined else ink.MARK)
    if sparse:
        for day, value in curve.points:
            builders[area.down(value)].put(area.left + area.across(day), "•", ink.STRONG)


def _light(lit: dict[tuple[int, int], int], x: int, y: int) -> None:
    cell = x // ACROSS, y // DOWN
    lit[cell] = lit.get(cell, 0) | _DOTS[y % DOWN][x % ACROSS]


def _plain(builders: list[RowBuilder], area: _Area, curve: PlotData) -> None:
    before = None
    for day, value in (*curve.line, *((curve.held, value) for _, value in curve.line[-1:])):
        x, y = area.across(day), area.down(value)
        if before is not None:
            builders[before[1]].fill(area.left + before[0], area.left + x, "_", ink.STRONG)
        before = x, y
    for day, value in curve.points:
        builders[area.down(value)].put(area.left + area.across(day), "*", ink.STRONG)
