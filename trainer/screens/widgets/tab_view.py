"""The tab on the stand: systems that fit the window, a playhead on the column that sounds, bars chosen by mouse."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from rich.segment import Segment
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip

from trainer.playback.piece import Loop, Piece
from trainer.screens.drawing.heard_rows import HeardStrip, strip_row
from trainer.screens.drawing.ink import CellRow
from trainer.screens.drawing.pen import BOX, Pen
from trainer.screens.drawing.score import GUTTER, ScoreLook, draw_system
from trainer.screens.drawing.staff import Staff, staff_for
from trainer.screens.drawing.systems import ColumnTable, DrawnSystem, PlacedColumn, in_view, system_at, systems_of
from trainer.screens.widgets.rows import Rows


@dataclass(frozen=True, slots=True)
class TabMusic:
    """The music on the stand, and how to show it."""

    piece: Piece
    parts: tuple[str, ...]
    """The parts to draw, the most important one first."""
    letters: Mapping[str, str]
    loop: Loop
    quality: bool = False
    cursor: int | None = None
    pen: Pen = BOX
    strip: bool = False
    """Whether the line under each system is reserved for the marks of a take."""


class TabView(Rows):
    """Draws the tab and the playhead."""

    class Selected(Message):
        """Bars were chosen with the mouse, both ends included; one bar by a click."""

        def __init__(self, first: int, last: int) -> None:
            super().__init__()
            self.first, self.last = first, last

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._music: TabMusic | None = None
        self._staff = Staff((), 1, ())
        self._systems: tuple[DrawnSystem, ...] = ()
        self._drawn: dict[int, tuple[CellRow, ...]] = {}
        self._shown: tuple[int, ...] = ()
        self._place, self._passes, self._playing = Fraction(0), 0, False
        self._head: tuple[int, PlacedColumn] | None = None
        self._drag: int | None = None
        self._strip: HeardStrip | None = None

    @property
    def systems(self) -> tuple[DrawnSystem, ...]:
        """The systems as wrapped for the current size."""
        return self._systems

    @property
    def staff(self) -> Staff:
        """The rows of every system."""
        return self._staff

    @property
    def shown(self) -> tuple[int, ...]:
        """The indices of the systems in view, from the top."""
        return self._shown

    @property
    def head(self) -> PlacedColumn | None:
        """The column under the playhead; None if it is not in view."""
        return self._head[1] if self._head else None

    def set_music(self, music: TabMusic) -> None:
        """Show other music, or the same with other settings."""
        before, self._music = self._music, music
        same = before is not None and replace(before, loop=music.loop, cursor=music.cursor) == music
        if same:
            self._drawn.clear()
            self._turn(force=True)
        else:
            self._wrap()

    def set_place(self, place: Fraction, passes: int, playing: bool) -> None:
        """Put the playhead on a place, and turn the page when it is time."""
        self._place, self._passes, self._playing = place, passes, playing
        self._turn()

    def set_strip(self, strip: HeardStrip | None) -> None:
        """Show the marks of the last judged pass under the systems; None shows none."""
        if strip != self._strip:
            self._strip = strip
            if self._shown and self._music is not None:
                self.show(self._lines())

    def on_resize(self) -> None:
        """Wrap the music for the new size."""
        self._wrap()

    def _wrap(self) -> None:
        music, width, height = self._music, self.size.width, self.size.height
        if music is None or width < 2 * GUTTER or height < 1:
            return
        table = ColumnTable(music.piece, self._in_view(music), 2 if music.quality else 1)
        bars = range(len(music.piece.bars))
        staff = staff_for(music.piece, music.parts, height - music.strip, len(music.piece.bars))
        table = ColumnTable(music.piece, staff.parts, 2 if music.quality else 1)
        self._systems = systems_of(table, bars, width, GUTTER, staff.slots)
        self._staff = staff
        self._drawn.clear()
        self._turn(force=True)

    @staticmethod
    def _in_view(music: TabMusic) -> tuple[str, ...]:
        return music.parts

    def _turn(self, force: bool = False) -> None:
        if not self._systems:
            return
        shown = self._view()
        if force or shown != self._shown:
            self._shown = shown
            self._head = self._find_head()
            self.show(self._lines())
            if force:
                self.refresh()
            return
        head = self._find_head()
        if head != self._head:
            old, self._head = self._head, head
            regions = [self._region(each) for each in (old, head) if each is not None]
            if old is not None and head is not None and old[0] == head[0]:
                regions = [regions[0].union(regions[1])]  # Textual sends a line once for each region in it
            self.refresh(*regions)

    def _view(self) -> tuple[int, ...]:
        """The systems to show: those of the loop while it plays, otherwise those around the chosen bar."""
        music = self._music
        if music is None or len(self._systems) <= self._staff.slots:
            return tuple(range(len(self._systems)))
        if not self._playing and music.cursor is not None:
            place = music.piece.bars[music.cursor].at
            first = system_at(self._systems, place)
            slots = self._staff.slots
            start = min(first // slots * slots, max(0, len(self._systems) - slots))
            return tuple(range(start, min(start + slots, len(self._systems))))
        first = system_at(self._systems, music.piece.bars[music.loop.first].at)
        end = music.piece.bars[music.loop.last].end
        last = max(first, *(n for n, system in enumerate(self._systems) if system.at < end))
        found = in_view(self._systems[first : last + 1], self._staff.slots, self._place, self._passes)
        return tuple(first + n for n in found)

    def _find_head(self) -> tuple[int, PlacedColumn] | None:
        """Find the playhead's slot and column; None if its system is not in view."""
        for slot, number in enumerate(self._shown):
            column = self._systems[number].column_at(self._place)
            if column is not None:
                return slot, column
        return None

    def _lines(self) -> list[CellRow]:
        lines: list[CellRow] = []
        for number in self._shown:
            lines += self._system(number)
            lines.append(self._below(number))
        return lines

    def _below(self, number: int) -> CellRow:
        """The line under a system."""
        music = self._music
        strip = self._strip if music is not None and music.strip else None
        return strip_row(self._systems[number], strip, self.size.width, music.pen if music else BOX)

    def _system(self, number: int) -> Sequence[CellRow]:
        music = self._music
        if music is None:
            return ()
        if number not in self._drawn:
            look = ScoreLook(music.letters, music.pen, music.quality, music.loop, music.cursor)
            rows, width = self._staff.rows, self.size.width
            self._drawn[number] = draw_system(music.piece, self._systems[number], rows, width, look)
        return self._drawn[number]

    def _region(self, head: tuple[int, PlacedColumn]) -> Region:
        slot, column = head
        return Region(column.x, slot * self._staff.height, column.column.needs, len(self._staff.rows))

    def render_line(self, y: int) -> Strip:
        """Draw one line, with the playhead on it."""
        strip = super().render_line(y)
        if self._head is None:
            return strip
        slot, column = self._head
        top = slot * self._staff.height
        if not top <= y < top + len(self._staff.rows):
            return strip
        end = column.x + max(1, column.column.needs - 1)
        style = self.ink_style("playhead")
        marked = Strip([Segment(each.text, style) for each in strip.crop(column.x, end)])
        return Strip.join([strip.crop(0, column.x), marked, strip.crop(end, self.size.width)])

    # -- the mouse ----------------------------------------------------------------------------------------------

    def bar_at(self, x: int, y: int) -> int | None:
        """The index of the bar at a cell; None beside the music."""
        slot, row = divmod(y, self._staff.height) if self._staff.rows else (0, 0)
        if slot >= len(self._shown) or row >= len(self._staff.rows):
            return None
        return self._systems[self._shown[slot]].bar_at(x)

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Begin choosing bars."""
        self._drag = self.bar_at(event.x, event.y)
        if self._drag is not None:
            self.capture_mouse()

    def on_mouse_up(self, event: events.MouseUp) -> None:
        """Choose the bars between where the button went down and here."""
        self.release_mouse()
        begin, end = self._drag, self.bar_at(event.x, event.y)
        self._drag = None
        if begin is not None and end is not None:
            self.post_message(self.Selected(min(begin, end), max(begin, end)))
