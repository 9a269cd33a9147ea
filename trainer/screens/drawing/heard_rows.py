"""A judged pass drawn: the marks under the tab, all its sentences, and the input's level meter."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.listening import marks
from trainer.practice.verdict import Outcome
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.systems import DrawnSystem

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.judging import Judgement
    from trainer.listening.performance import PlayedStroke

NOT_JUDGED = "could not match"
GOOD = 1
"""The last band, as `Bands.band` counts, in which a stroke needs no mark."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How one written stroke was played."""

    at: Fraction
    """Its place in the piece, in whole notes."""
    late_ms: int | None = 0
    """Milliseconds late (+) or early (-); None if it was not heard."""
    wrong: bool = False
    """Whether another pitch was heard."""

    def text(self, pen: Pen, room: int) -> str:
        """Write the mark in at most `room` cells: with its milliseconds if they fit, otherwise the sign alone."""
        if self.late_ms is None:
            return pen.lost
        if self.wrong:
            return pen.other
        sign = pen.early if self.late_ms < 0 else pen.late
        figure = f"{sign}{-self.late_ms}" if self.late_ms < 0 else f"{self.late_ms}{sign}"
        return figure if len(figure) <= room else sign


@dataclass(frozen=True, slots=True)
class HeardStrip:
    """The marks of the last judged pass."""

    letter: str
    """The part's letter."""
    marks: tuple[Mark, ...] = ()
    """Those of the strokes to look at, in time order."""
    followed: bool = True
    """Whether the pass could be followed."""


def marks_of(
    strokes: "Sequence[PlayedStroke]", begins: Fraction, bands: "Bands", habit_ms: float = 0.0
) -> tuple[Mark, ...]:
    """Mark the strokes of a judged pass that were lost, wrong, or outside the good band; the others need no look.

    Args:
        strokes: the judged strokes.
        begins: where in the piece the pass began.
        bands: what is good.
        habit_ms: the steady deviation, which no single stroke is blamed for; + is late.
    """
    found = []
    for item in strokes:
        late = None if item.deviation_ms is None else item.deviation_ms - habit_ms
        if late is None or item.wrong or bands.band(late, float(item.stroke.length)) > GOOD:
            found.append(Mark(begins + item.stroke.offset, None if late is None else round(late), item.wrong))
    return tuple(found)


def strip_row(system: DrawnSystem, strip: HeardStrip | None, width: int, pen: Pen) -> CellRow:
    """Draw the line under a system: each mark in the column of its stroke."""
    builder = RowBuilder(width)
    if strip is None:
        return builder.row()
    here = {mark.at: mark for mark in strip.marks if system.at <= mark.at < system.end}
    if not strip.followed:
        builder.put(0, strip.letter, ink.QUIET)
        builder.put(system.stretches[0].x, NOT_JUDGED, ink.QUIET)
        return builder.row()
    if here:
        builder.put(0, strip.letter, strip.letter)
        builder.put(2, "ms", ink.LABEL)
    found = [(placed.x, here[placed.column.at]) for placed in system.columns if placed.column.at in here]
    ends = [*(x for x, _ in found), system.width][1:]
    for (x, mark), end in zip(found, ends, strict=True):
        builder.put(x, mark.text(pen, max(1, end - x - 1)), ink.STRONG, end)
    return builder.row()


def sentences(judgement: "Judgement") -> tuple[str, ...]:
    """Say how a pass was: the verdict with its reasons, what to do next, the habit, what may have spoilt the take."""
    verdict = judgement.verdict
    if not verdict.counts:
        first = "Not judged."
    elif verdict.reasons and verdict.outcome is Outcome.CLEAN:
        first = "Heard: clean. To watch:"
    else:
        first = f"Heard: {verdict.outcome}."
    told = [first, *(reason.sentence for reason in verdict.reasons)]
    if judgement.action is not None:
        told.append(judgement.action.sentence)
    if judgement.habit:
        told.append(judgement.habit)
    return (*told, *judgement.warnings)


def habit_of(judgement: "Judgement") -> float:
    """The steady deviation of a take in milliseconds (+ is late); 0 if the deviations are already without it."""
    return marks.habit_of(judgement)


def off_strokes(strokes: "Sequence[PlayedStroke]", bands: "Bands", habit_ms: float = 0.0) -> tuple[str, ...]:
    """Describe every marked stroke in a line: its place, and how it was played."""
    return marks.off_strokes(strokes, bands, habit_ms)


FLOOR_DB = -60.0
"""The level at the meter's left end."""


def level_row(peak_db: float, clipped: bool, width: int, pen: Pen) -> CellRow:
    """Draw a level meter: a bar from -60 dB to full scale, and the level or a word if it clips."""
    builder = RowBuilder(width)
    word = "CLIPS" if clipped else f"{max(peak_db, -99):.0f} dB"
    room = max(1, width - 9)
    full = round(room * min(1.0, max(0.0, 1 - peak_db / FLOOR_DB)))
    builder.put(0, pen.full * full, ink.STRONG)
    builder.put(full, pen.empty * (room - full), ink.QUIET)
    builder.put(room + 1, word, ink.STRONG if clipped else ink.PLAIN)
    return builder.row()
