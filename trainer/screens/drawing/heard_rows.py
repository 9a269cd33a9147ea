"""What a take says of a pass: the marks under the tab of the part, and the sentences below it."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.listening import marks
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.systems import System

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.judging import Judgement
    from trainer.listening.performance import PlayedStroke

NOT_JUDGED = "could not follow"


@dataclass(frozen=True, slots=True)
class Mark:
    """What became of one written stroke."""

    at: Fraction
    """Its place in the piece, in whole notes."""
    late_ms: int | None = 0
    """Early below zero; 0 where nobody would notice; None when it was not heard."""
    wrong: bool = False
    """Whether it was heard at another pitch."""

    def text(self, pen: Pen, room: int) -> str:
        """The mark in so many cells: with its milliseconds where they fit, else its sign alone."""
        if self.late_ms is None:
            return pen.lost
        if self.wrong:
            return pen.other
        if not self.late_ms:
            return pen.dot
        sign = pen.early if self.late_ms < 0 else pen.late
        figure = f"{sign}{-self.late_ms}" if self.late_ms < 0 else f"{self.late_ms}{sign}"
        return figure if len(figure) <= room else sign


@dataclass(frozen=True, slots=True)
class HeardStrip:
    """The marks of the last pass that was heard."""

    letter: str
    """The part's letter."""
    marks: tuple[Mark, ...] = ()
    """Empty for a pass that could not be followed."""


def marks_of(
    strokes: "Sequence[PlayedStroke]", begins: Fraction, bands: "Bands", habit_ms: float = 0.0
) -> tuple[Mark, ...]:
    """The marks of a pass.

    Args:
        strokes: those that were judged.
        begins: where in the piece the pass began.
        bands: what is too little to be noticed.
        habit_ms: what is steady in them, which is no fault of any stroke; late above zero.
    """
    found = []
    for item in strokes:
        late = None if item.deviation_ms is None else item.deviation_ms - habit_ms
        noticed = late is not None and abs(late) > bands.noticed(float(item.stroke.length))
        shown = None if late is None else round(late) if noticed else 0
        found.append(Mark(begins + item.stroke.offset, shown, item.wrong))
    return tuple(found)


def strip_row(system: System, strip: HeardStrip | None, width: int, pen: Pen) -> Row:
    """The line under a system: each mark in the column of its stroke."""
    builder = RowBuilder(width)
    if strip is None:
        return builder.row()
    here = {mark.at: mark for mark in strip.marks if system.at <= mark.at < system.end}
    if not strip.marks:
        builder.put(0, strip.letter, ink.QUIET)
        builder.put(system.stretches[0].x, NOT_JUDGED, ink.QUIET)
        return builder.row()
    if here:
        builder.put(0, strip.letter, strip.letter)
        builder.put(2, "ms", ink.LABEL)
    for placed in system.columns:
        mark = here.get(placed.column.at)
        if mark is not None:
            kind = ink.QUIET if mark.late_ms == 0 and not mark.wrong else ink.STRONG
            builder.put(placed.x, mark.text(pen, max(1, placed.width - 1)), kind, placed.end)
    return builder.row()


def sentences(judgement: "Judgement") -> tuple[str, ...]:
    """What there is to say: the verdict with its reasons, what to do next, the habit, what may have spoilt the take."""
    verdict = judgement.verdict
    first = f"Heard: {verdict.outcome}." if verdict.counts else "Not judged."
    reasons = [reason.sentence for reason in verdict.reasons]
    told = [first, *reasons]
    if judgement.action is not None:
        told.append(judgement.action.sentence)
    if judgement.habit:
        told.append(judgement.habit)
    return (*told, *judgement.warnings)


def habit_of(judgement: "Judgement") -> float:
    """What is steady in a take, in milliseconds; 0 where that is taken out of the deviations already."""
    return marks.habit_of(judgement)


def off_strokes(strokes: "Sequence[PlayedStroke]", bands: "Bands", habit_ms: float = 0.0) -> tuple[str, ...]:
    """Every stroke that is marked, one line each: its place, and how it was."""
    return marks.off_strokes(strokes, bands, habit_ms)


def sentence_rows(told: Sequence[str], width: int, height: int, more: str) -> tuple[Row, ...]:
    """Sentences in so many lines; the last line ends with `more` where not all of it fits."""
    lines = textwrap.wrap(" ".join(told), max(1, width - 2))
    if len(lines) > height > 0:
        last = textwrap.shorten(" ".join(lines[height - 1 :]), max(1, width - 3 - len(more)), placeholder="…")
        lines = [*lines[: height - 1], f"{last} {more}"]
    rows = []
    for number in range(height):
        builder = RowBuilder(width)
        if number < len(lines):
            builder.put(1, lines[number], ink.PLAIN)
        rows.append(builder.row())
    return tuple(rows)


FLOOR_DB = -60.0
"""The meter's left end."""


def level_row(peak_db: float, clipped: bool, width: int, pen: Pen) -> Row:
    """A level meter: a bar from -60 dB to full scale, the figure, and a word where it clips."""
    builder = RowBuilder(width)
    word = "CLIPS" if clipped else f"{max(peak_db, -99):.0f} dB"
    room = max(1, width - 9)
    full = round(room * min(1.0, max(0.0, 1 - peak_db / FLOOR_DB)))
    builder.put(0, pen.full * full, ink.STRONG)
    builder.put(full, pen.empty * (room - full), ink.QUIET)
    builder.put(room + 1, word, ink.STRONG if clipped else ink.PLAIN)
    return builder.row()
