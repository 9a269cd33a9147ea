"""How the stand's panes share the window."""

from dataclasses import dataclass
from typing import NamedTuple

from trainer.screens.drawing.staff import StaffRows
from trainer.session.choices import Pane

SMALLEST = (40, 12)
"""Cells and lines under which nothing is drawn."""
WIDE = (150, 32)
"""From here on the state stands beside the music."""
SIDE = 52
TOO_SMALL = "This window is\ntoo small. Make\nit 40 by 12 or\nlarger."
MOST_PROSE, LEAST_PROSE = 14, 6
"""Lines of the lesson's words."""
LEAST_SHOWN = 3
"""Lines of the words that stay while the panel has more to say."""
NO_SYSTEM = StaffRows(0, 0, 0)
"""Of music that is not there."""
LEAST_PANEL = 2
"""Lines of a panel that has given its large figures up."""
LOW = 34
"""Lines of a window from which on the panel's figures are large."""
VERDICT = 2
"""Lines of the verdict while it need not give way: how it was, and what to do."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be shown, and how much room it takes."""

    neck: Pane = Pane.OFF
    prose: Pane = Pane.OFF
    neck_lines: int = 0
    """Lines that the neck takes."""
    system: StaffRows = NO_SYSTEM
    """Rows of a system of the tab."""
    listening: bool = False
    """Whether there are a row of marks under the system and lines for the verdict."""
    lacking: int = 0
    """Lines that the panel would need besides its own; the words give it some of theirs, or the music what it does not
    need."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Lines of every pane; 0 for those that are not shown."""

    small: bool = False
    wide: bool = False
    side: int = 0
    """Cells of the side pane, where the window is wide."""
    usual: int = 4
    """Lines of the panel without those that it is lent."""
    panel: int = 4
    prose: int = 0
    neck: int = 0
    heard: int = 0
    """Lines of the verdict."""


def layout_for(width: int, height: int, wanted: Wanted) -> Layout:
    """The panes for a window of so many cells and lines.

    The system that is played never loses a row to another pane. What gives way to it, in this order: the lesson's
    words, the neck, the panel's large figures, the verdict down to one line. A pane that the player asked for leaves my
    own part whole; one that is shown where there is room leaves all parts in view whole.
    """
    if width < SMALLEST[0] or height < SMALLEST[1]:
        return Layout(small=True)
    wide = width >= WIDE[0] and height >= WIDE[1]
    usual = panel_lines(width, height)
    room = _Room(height - 2 - wanted.listening, 0 if wide else usual, VERDICT if wanted.listening else 0)
    own, system = wanted.system.own, wanted.system
    neck = _neck(room, wanted, wide)
    room = room.without(neck)
    prose = 0
    if wide:
        prose = max(1, height - usual - 4) if wanted.prose is not Pane.OFF else 0
    elif wanted.prose is not Pane.OFF:
        prose = min(MOST_PROSE, room.spare(system.whole))
        if prose < LEAST_PROSE and wanted.prose is Pane.ON:
            prose = max(LEAST_PROSE, min(MOST_PROSE, room.spare(own))) if room.can_hold(own + LEAST_PROSE) else 0
        prose = prose if prose >= LEAST_PROSE else 0
    room = room.without(0 if wide else prose)
    needed = next((rows for rows in (system.whole, system.lean) if room.can_hold(rows)), own)
    if wide:
        return Layout(False, True, SIDE, usual, usual, prose, neck, room.giving_way(needed).heard)
    room = room.giving_way(needed)
    lent = min(wanted.lacking, max(0, prose - LEAST_SHOWN) if prose else max(0, room.spare(needed)))
    return Layout(
        usual=room.panel, panel=room.panel + lent, prose=prose - lent if prose else 0, neck=neck, heard=room.heard
    )


class _Room(NamedTuple):
    """The lines of a window that are shared between the tab, the panel and the verdict."""

    lines: int
    """All of them."""
    panel: int
    """Those of the panel; 0 where it stands beside the music."""
    heard: int
    """Those of the verdict; 0 while the stand does not listen."""

    def without(self, lines: int) -> "_Room":
        """The room when a pane has taken some lines."""
        return self._replace(lines=self.lines - lines)

    def spare(self, rows: int) -> int:
        """Lines that are left beside so many rows of tab while nothing gives way; less than 0 where some lack."""
        return self.lines - self.panel - self.heard - rows

    def can_hold(self, rows: int) -> bool:
        """Whether so many rows fit once everything has given way."""
        return rows <= self.lines - min(self.panel, LEAST_PANEL) - min(self.heard, 1)

    def giving_way(self, rows: int) -> "_Room":
        """The room when the panel, and then the verdict, have given way to so many rows as far as they can."""
        panel = max(min(self.panel, LEAST_PANEL), self.panel + min(0, self.spare(rows)))
        after = self._replace(panel=panel)
        return after._replace(heard=max(min(self.heard, 1), self.heard + min(0, after.spare(rows))))


def _neck(room: _Room, wanted: Wanted, wide: bool) -> int:
    """Lines of the neck, with the empty one above it; 0 where there is no room."""
    lines = wanted.neck_lines + 1
    if wanted.neck is Pane.OFF or not wanted.neck_lines:
        return 0
    if wanted.neck is Pane.ON:
        return lines if room.can_hold(wanted.system.own + lines) else 0
    words = LEAST_PROSE if wanted.prose is Pane.ON and not wide else 0
    return lines if room.spare(wanted.system.whole + words) >= lines else 0


def panel_lines(width: int, height: int) -> int:
    """Lines that the panel has of its own while it need not give way."""
    if width >= WIDE[0] and height >= WIDE[1]:
        return 26 if height >= 40 else 22
    return 7 if height >= LOW else 4
