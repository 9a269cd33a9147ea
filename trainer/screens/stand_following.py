"""Following the sound: the playhead moves, and the count changes, at the moment the next column or count begins."""

from fractions import Fraction

from textual.timer import Timer

from trainer.music.meter import Meter
from trainer.screens.facts import facts_for
from trainer.screens.playhead import Playhead
from trainer.screens.stand_layout import panel_lines
from trainer.screens.stand_showing import Shows
from trainer.screens.widgets.neck_view import NeckView
from trainer.screens.widgets.panel_view import PanelView
from trainer.screens.widgets.tab_view import TabView

NARROW = 100
"""Cells of a window under which the panel says less at once."""
SHORTEST, LONGEST, COUNTING, RESTING = 0.004, 0.1, 0.03, 0.2
"""Seconds between two looks at the playhead: bounds while playing, while counting in, and at rest."""
PEDAL = 0.05
"""The most while a foot pedal is heard."""
BEYOND = 0.002
"""Seconds after a moment at which it is looked: a sink's clock goes in blocks of up to 1.3 ms."""


def next_look(head: Playhead, column_end: Fraction | None, bar_at: Fraction, meter: Meter) -> float:
    """Seconds until there is something new to show.

    Args:
        head: where the sound is.
        column_end: where the column ends that is marked, in whole notes from the piece's start; None where none is.
        bar_at: where the bar begins.
        meter: of the bar.
    """
    if head.counting_in:
        return COUNTING
    if not head.playing or not head.a_second:
        return RESTING
    ends = bar_at + head.count * meter.count_length
    if column_end is not None:
        ends = min(ends, column_end)
    return min(max(float((ends - head.place) / head.a_second) + BEYOND, SHORTEST), LONGEST)


class Follows(Shows):
    """The stand's screen, following what sounds."""

    def __init__(self) -> None:
        super().__init__()
        self._timer: Timer | None = None
        self._due = 0.0

    def follow(self) -> None:
        """Look now, and go on looking."""
        for outcome in self.pedal.poll():
            self.action_judge(str(outcome))
        self._timer = None
        if self.is_current:
            self.show_head()
        if self._timer is None:
            self._look_in(RESTING)

    def show_head(self) -> None:
        """Show where the sound is, and look again when there is something new to show."""
        practising = self.practising
        if practising is None:
            return
        head, standing = practising.playhead(), practising.standing
        tab = self.query_one(TabView)
        tab.set_place(head.place, head.pass_number - 1, head.playing or head.counting_in)
        self.query_one(NeckView).set_place(head.place, head.bar)
        narrow = not self.panes.wide and self.size.width < NARROW
        pen = self.wiring.pen
        facts = facts_for(standing, head, self.chosen_part(), pen, said=self.said, narrow=narrow)
        panel = self.query_one(PanelView)
        panel.set_facts(facts, pen, panel_lines(*self.size))
        if panel.lacking != self.lacking:
            self.lay_out()
        bar = standing.stood.piece.bars[head.bar]
        marked = tab.head.column if tab.head else None
        self._look_in(next_look(head, marked.at + marked.length if marked else None, bar.at, bar.meter))

    def _look_in(self, seconds: float) -> None:
        """Look again after so long, unless that is to happen before anyway."""
        if self.pedal.listening:
            seconds = min(seconds, PEDAL)
        due = self.wiring.clock() + seconds
        if self._timer is not None:
            if due > self._due - 0.005:
                return
            self._timer.stop()
        self._due, self._timer = due, self.set_timer(seconds, self.follow)
