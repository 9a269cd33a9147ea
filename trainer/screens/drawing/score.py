"""Drawing a system: the parts' lines one above the other as musicians write tab, with every mark in its row."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.note import DrumMoment, Force, Moment, Touch
from trainer.music.part import DrumPart, TabPart
from trainer.music.printable import printable
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi
from trainer.notation.cell import REST, write_cell
from trainer.playback.piece import Loop, Piece
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder
from trainer.screens.drawing.pen import BOX, Pen
from trainer.screens.drawing.staff import RowKind, StaffRow
from trainer.screens.drawing.systems import BarStretch, DrawnSystem, PlacedColumn, finger_text

# -- the interval line ---------------------------------------------------------------------------------------------


@lru_cache(maxsize=4096)
def interval_between(key: Key, one: int, other: int) -> Interval:
    """The interval between two MIDI keys as a musical key spells them, counted upward."""
    low, high = sorted((one, other))
    return Interval.between(key.spell(low), key.spell(high)).upward


def intervals_of(riff: Riff, bar: int, upper: str, lower: str) -> Mapping[Fraction, Interval]:
    """Find the interval wherever both parts start a note in a bar; of chords the highest notes count.

    Args:
        riff: the riff, its harmonies computed.
        bar: counted from 0.
        upper: the name of one part.
        lower: the name of the other; which one sounds higher does not matter.
    """
    found = [riff.part(upper), riff.part(lower)]
    tops = [_tops(part, bar) if isinstance(part, TabPart) else {} for part in found]
    return {
        offset: interval_between(riff.key, midi, tops[1][offset])
        for offset, midi in tops[0].items()
        if offset in tops[1]
    }


MOST = 10
"""Intervals wider than this are named without their octaves: a tenth keeps its name, a seventeenth is a third."""


def interval_name(interval: Interval, quality: bool) -> str:
    """Name an interval: "3", or with its quality "m3"."""
    number = interval.number
    if number > MOST:
        number = (number - 2) % 7 + 2
    return f"{interval.quality}{number}" if quality else str(number)


def _tops(part: TabPart, bar: int) -> dict[Fraction, int]:
    if bar >= len(part.bars):
        return {}
    tops = ((moment.offset, _top(part, moment)) for moment in part.bars[bar])
    return {offset: top for offset, top in tops if top is not None}


def _top(part: TabPart, moment: Moment) -> int | None:
    pitches = [note_midi(part.instrument, note) for note in moment.notes if note.touch is not Touch.DEAD]
    return max(pitches, default=None)


# -- the system ----------------------------------------------------------------------------------------------------

GUTTER = 6
"""Cells before the first bar line: the part's letter and the string's name."""


@dataclass(frozen=True, slots=True)
class ScoreLook:
    """How a system is drawn, colours aside."""

    letters: Mapping[str, str]
    """The letter of each part."""
    pen: Pen = BOX
    quality: bool = False
    """Whether intervals are named with their quality: m, M, P, d, A."""
    loop: Loop | None = None
    """The loop whose ends are marked."""
    cursor: int | None = None
    """The index of the chosen bar."""


@dataclass(frozen=True, slots=True)
class _Job:
    piece: Piece
    system: DrawnSystem
    look: ScoreLook
    width: int

    def riff(self, stretch: BarStretch) -> tuple[Riff, int]:
        """The riff of a stretch, and the number of its bar in that riff."""
        bar = self.piece.bars[stretch.bar]
        return self.piece.riffs[bar.riff].riff, bar.number

    def moments(self, stretch: BarStretch, part: str) -> Mapping[Fraction, Moment | DrumMoment]:
        """The moments of a part that start in a bar, by place in the piece."""
        riff, number = self.riff(stretch)
        found = riff.part(part)
        if not isinstance(found, TabPart | DrumPart) or number >= len(found.bars):
            return {}
        at = self.piece.bars[stretch.bar].at
        return {at + moment.offset: moment for moment in found.bars[number]}

    def tab_moments(self, part: str) -> "list[tuple[PlacedColumn, Moment]]":
        """The moments of a string part that start in the system, with their columns."""
        found = []
        for stretch in self.system.stretches:
            moments = self.moments(stretch, part)
            for placed in stretch.columns:
                moment = moments.get(placed.column.at)
                if isinstance(moment, Moment):
                    found.append((placed, moment))
        return found


Drawer = Callable[[_Job, StaffRow, bool], CellRow]
"""Draws one row; the last argument says whether it is the first row of its part's lines."""


def draw_system(
    piece: Piece, system: DrawnSystem, rows: Sequence[StaffRow], width: int, look: ScoreLook
) -> tuple[CellRow, ...]:
    """Draw one system.

    Args:
        piece: the music.
        system: what to draw, with the places of its columns.
        rows: the rows of the staff.
        width: cells of a line.
        look: letters, characters and choices.
    """
    job = _Job(piece, system, look, width)
    first = {row.part: n for n, row in reversed(list(enumerate(rows))) if row.kind in (RowKind.STRING, RowKind.DRUM)}
    return tuple(_DRAW[row.kind](job, row, n == first.get(row.part)) for n, row in enumerate(rows))


def _counts(job: _Job, _row: StaffRow, _first: bool) -> CellRow:
    builder = RowBuilder(job.width)
    pen, cursor = job.look.pen, job.look.cursor
    loop = job.look.loop if job.look.loop and job.look.loop.bars < len(job.piece.bars) else None
    if job.system.stretches[0].begins:
        builder.put(0, f"{job.piece.bars[job.system.stretches[0].bar].number + 1:>{GUTTER - 1}}", ink.LABEL)
    for stretch in job.system.stretches:
        chosen = stretch.bar == cursor
        if stretch.begins:
            builder.put(stretch.x, pen.bar, ink.BAR)
        if chosen and stretch.begins:
            builder.put(stretch.x + 1, pen.chosen, ink.STRONG)
        for placed in stretch.columns:
            column = placed.column
            kind = ink.STRONG if chosen else ink.COUNT if column.beat else ink.FINE
            builder.put(placed.x, column.mark, kind, placed.end)
        if stretch.ends:
            builder.put(stretch.end, pen.bar, ink.BAR)
    for stretch in job.system.stretches:
        if stretch.begins and loop is not None and stretch.bar == loop.first:
            builder.put(stretch.x, pen.repeat + (":" if stretch.bar != cursor else ""), ink.STRONG)
        if stretch.ends and loop is not None and stretch.bar == loop.last:
            builder.put(stretch.end - 1, ":" + pen.repeat, ink.STRONG)
    return builder.row()


def _heads(job: _Job, _row: StaffRow, _first: bool) -> CellRow:
    """Draw the names of the riffs that begin in the system, and of the one that goes on at its start."""
    builder = RowBuilder(job.width)
    for number, stretch in enumerate(job.system.stretches):
        riff, bar = job.riff(stretch)
        if number == 0 or (bar == 0 and stretch.begins):
            x = GUTTER if number == 0 else stretch.x
            builder.put(x, printable(riff.name), ink.HEAD)
    return builder.row()


def _lines(job: _Job, part: str, label: str, first: bool) -> RowBuilder:
    """Begin a staff line with its bar lines and label, and nothing on it yet."""
    pen, system = job.look.pen, job.system
    builder = RowBuilder(job.width)
    letter = job.look.letters.get(part, "?")
    if first:
        builder.put(0, letter, letter)
    builder.put(2, f"{label:>3}", ink.LABEL, GUTTER)
    end = system.stretches[-1].end
    builder.fill(system.stretches[0].x, end, pen.string, ink.LINE)
    for number, stretch in enumerate(system.stretches):
        if stretch.begins:
            builder.put(stretch.x, pen.bar if number else pen.nut, ink.BAR)
    if system.stretches[-1].ends:
        builder.put(end, pen.last, ink.BAR)
    return builder


def _string(job: _Job, row: StaffRow, first: bool) -> CellRow:
    riff, _ = job.riff(job.system.stretches[0])
    found = riff.part(row.part)
    if not isinstance(found, TabPart) or row.string > found.instrument.strings:
        return RowBuilder(job.width).row()
    name = found.instrument.tuning[found.instrument.strings - row.string].name
    builder = _lines(job, row.part, str(name), first)
    letter = job.look.letters.get(row.part, "?")
    for placed, moment in job.tab_moments(row.part):
        for note in moment.notes:
            if note.string == row.string:
                dead = note.touch is Touch.DEAD
                builder.put(placed.x, write_cell(note), ink.QUIET if dead else letter, placed.end)
        if moment.rest and row.string == (found.instrument.strings + 1) // 2:
            builder.put(placed.x, REST, ink.QUIET, placed.end)
    return builder.row()


def _drum(job: _Job, row: StaffRow, first: bool) -> CellRow:
    builder = _lines(job, row.part, _DRUM_LABELS.get(row.piece, row.piece[:3]), first)
    letter = job.look.letters.get(row.part, "?")
    for stretch in job.system.stretches:
        moments = job.moments(stretch, row.part)
        for placed in stretch.columns:
            moment = moments.get(placed.column.at)
            if isinstance(moment, DrumMoment):
                for hit in moment.hits:
                    if hit.piece == row.piece:
                        quiet = hit.force is Force.GHOST
                        builder.put(placed.x, hit.force.value, ink.QUIET if quiet else letter)
    return builder.row()


_DRUM_LABELS = {
    "kick": "kik", "snare": "snr", "hat": "hat", "open": "opn", "ride": "rid", "bell": "bel", "crash": "crs",
    "tom 1": "t 1", "tom 2": "t 2", "tom 3": "t 3", "tom 4": "t 4",
}  # fmt: skip


def _spans(name: str, wanted: Callable[[Moment], bool]) -> "Drawer":
    """Make a drawer of lasting marks: the name where one begins, and a line over all its notes."""

    def draw(job: _Job, row: StaffRow, _first: bool) -> CellRow:
        builder = RowBuilder(job.width)
        pen = job.look.pen
        run: list[PlacedColumn] = []

        def finish() -> None:
            if not run:
                return
            end = max(run[-1].x + 1, run[0].x + 1)
            after = builder.put(run[0].x, name, ink.MARK, max(end, run[0].end - 1))
            if len(run) > 1:
                builder.fill(after, end - 1, pen.span, ink.MARK)
                if end - 1 >= after:
                    builder.put(end - 1, pen.stop, ink.MARK)
            run.clear()

        for placed, moment in job.tab_moments(row.part):
            if moment.notes and wanted(moment):
                run.append(placed)
            elif moment.notes or moment.rest:
                finish()
        finish()
        return builder.row()

    return draw


def _each(
    text: Callable[[_Job, Moment], str], kind: str, wide: bool = False
) -> "Callable[[_Job, StaffRow, bool], CellRow]":
    """Make a drawer of marks on single notes."""

    def draw(job: _Job, row: StaffRow, _first: bool) -> CellRow:
        builder = RowBuilder(job.width)
        found = [(placed, text(job, moment)) for placed, moment in job.tab_moments(row.part)]
        found = [(placed, mark) for placed, mark in found if mark]
        for number, (placed, mark) in enumerate(found):
            following = found[number + 1][0].x - 1 if number + 1 < len(found) else job.system.width
            builder.put(placed.x, mark, kind, following if wide else placed.end)
        return builder.row()

    return draw


def _stroke(job: _Job, moment: Moment) -> str:
    return {"d": job.look.pen.down, "u": job.look.pen.up}.get(moment.pick, "")


def _intervals(job: _Job, row: StaffRow, _first: bool) -> CellRow:
    builder = RowBuilder(job.width)
    upper, lower = (job.look.letters.get(name, "?") for name in (row.part, row.other))
    builder.put(2, f"{upper}{lower}", ink.LABEL)
    for stretch in job.system.stretches:
        riff, number = job.riff(stretch)
        at = job.piece.bars[stretch.bar].at
        found = intervals_of(riff, number, row.part, row.other)
        for placed in stretch.columns:
            interval = found.get(placed.column.at - at)
            if interval is not None:
                builder.put(placed.x, interval_name(interval, job.look.quality), ink.INTERVAL, placed.end)
    return builder.row()


def _gap(job: _Job, _row: StaffRow, _first: bool) -> CellRow:
    return RowBuilder(job.width).row()


_DRAW: dict[RowKind, Drawer] = {
    RowKind.HEAD: _heads,
    RowKind.COUNT: _counts,
    RowKind.CHORD: _each(lambda _, moment: printable(moment.chord), ink.CHORD, wide=True),
    RowKind.ACCENT: _each(lambda _, moment: moment.accent, ink.MARK),
    RowKind.STRING: _string,
    RowKind.DRUM: _drum,
    RowKind.MUTE: _spans("PM", lambda moment: moment.mute),
    RowKind.RING: _spans("ring", lambda moment: moment.ring),
    RowKind.PICK: _each(_stroke, ink.MARK),
    RowKind.FINGER: _each(lambda _, moment: finger_text(moment), ink.MARK),
    RowKind.INTERVAL: _intervals,
    RowKind.GAP: _gap,
}
