"""The stand's panes: the title, the music, the neck, the panel and the lesson's words, each in its place."""

from collections.abc import Sequence

from textual.screen import Screen

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import RowBuilder
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.prose import prose_rows
from trainer.screens.drawing.staff import StaffRows, staff_rows
from trainer.screens.facts import facts_for
from trainer.screens.stand_following import next_look
from trainer.screens.stand_layout import LOW, TOO_SMALL, Layout, Wanted, layout_for
from trainer.screens.widgets.neck_view import NeckView
from trainer.screens.widgets.panel_view import PanelView
from trainer.screens.widgets.rows import Rows, ScrolledRows
from trainer.screens.widgets.tab_view import TabMusic, TabView
from trainer.session.choices import Choices, Pane, View
from trainer.session.playhead import Playhead
from trainer.session.state import SessionState

NARROW = 100
"""Cells of a window under which the panel says less at once."""


class Panes:
    """Draws a session's state on the stand's screen."""

    def __init__(self, screen: Screen[None], pen: Pen) -> None:
        self._screen, self._pen = screen, pen
        self.layout = Layout()
        self._lacking = 0
        """Lines that the panel needed besides the usual ones when the panes were laid out."""
        self._system = StaffRows(0, 0, 0)
        self._words: str | None = None
        self._wanted: tuple[Choices | None, bool] = (None, False)

    # -- places -------------------------------------------------------------------------------------------------

    def lay_out(self, choices: Choices | None, listening: bool) -> None:
        """Give every pane its place in the window.

        Args:
            choices: which panes are wanted; None while nothing is on the stand.
            listening: whether what is heard is shown.
        """
        screen = self._screen
        self._wanted = choices, listening
        neck, panel = screen.query_one(NeckView), screen.query_one(PanelView)
        wanted = (choices.neck, words_pane(choices)) if choices else (Pane.OFF, Pane.OFF)
        self._lacking = panel.lacking
        asked = Wanted(*wanted, neck.lines, self._system, listening, self._lacking)
        self.layout = where = layout_for(*screen.size, asked)
        screen.set_class(where.wide, "wide")
        screen.set_class(where.small, "small")
        side, prose = screen.query_one("#side"), screen.query_one("#prose")
        side.styles.width = where.side if where.wide else "100%"
        side.styles.height = "100%" if where.wide else where.panel + where.prose
        panel.styles.height = where.panel
        prose.display = where.prose > 0
        neck.display = where.neck > 0
        neck.styles.height = where.neck or 1
        heard = screen.query_one("#heard")
        heard.display = where.heard > 0
        heard.styles.height = where.heard or 1
        small = screen.query_one("#small", Rows)
        small.display = where.small
        for each in ("#title", "#hints", "#body"):
            screen.query_one(each).display = not where.small
        if where.small:
            lines = TOO_SMALL.split("\n")
            builders = [RowBuilder(max(1, screen.size.width)) for _ in lines]
            for builder, line in zip(builders, lines, strict=True):
                builder.put(0, line, ink.PLAIN)
            small.show([builder.row() for builder in builders])

    @property
    def is_cut(self) -> bool:
        """Whether the panel has no room for all that was said."""
        return self._lacking > self.layout.panel - self.layout.usual

    def gives_way(self, pane: Pane) -> Pane:
        """What becomes of a pane when another is asked for: in a window that is too low for two it makes room."""
        return pane if self.layout.wide or self._screen.size.height >= LOW else Pane.ROOM

    # -- contents -----------------------------------------------------------------------------------------------

    def show_music(self, state: SessionState, *, strip: bool) -> None:
        """Show the music and the neck.

        Args:
            state: of the session.
            strip: whether there is a line for the marks of what was heard.
        """
        loaded, parts = state.loaded, parts_in_view(state)
        music = TabMusic(
            loaded.piece, parts, loaded.letters, state.loop, state.choices.quality, state.bar, self._pen, strip
        )
        self._system = staff_rows(loaded.piece, parts)
        self._screen.query_one(TabView).set_music(music)
        hands = {name: loaded.letters[name] for name in loaded.guitars[:2]}
        self._screen.query_one(NeckView).set_music(loaded.piece, hands, self._pen)

    def show_lesson(self, state: SessionState) -> None:
        """Show the lesson's words: the exercise's, then the riff's."""
        loaded = state.loaded
        riffs = [loaded.exercise.riff(loaded.riff)] if loaded.riff else list(loaded.exercise.riffs)
        texts = [loaded.exercise.prose, *(f"## {riff.name}\n\n{riff.prose}" for riff in riffs if riff and riff.prose)]
        text = "\n\n".join(text for text in texts if text)
        if text != self._words:
            self._words = text
            self._screen.query_one("#prose", ScrolledRows).set_source(lambda width: prose_rows(text, width))

    def forget_lesson(self) -> None:
        """Something else is shown in its place."""
        self._words = None

    def show_nothing(self, said: str) -> None:
        """Say that nothing is on the stand, or why."""
        title = RowBuilder(max(1, self._screen.size.width))
        title.put(1, said or "Nothing is on the stand. F2 opens the shelf.", ink.HEAD)
        self._screen.query_one("#title", Rows).show([title.row()])

    def show_title(self, state: SessionState, where: str, marks: Sequence[str], *, playing: bool) -> None:
        """Show the title.

        Args:
            state: of the session.
            where: it sounds.
            marks: what differs from the file.
            playing: whether it is played.
        """
        width, loaded, dot = max(1, self._screen.size.width), state.loaded, self._pen.dot
        title = RowBuilder(width)
        bar = loaded.piece.bars[min(state.bar, len(loaded.piece.bars) - 1)]
        riff = loaded.piece.riffs[bar.riff].riff
        x = title.put(1, f"{self._pen.heard} ", ink.MARK) if playing else 1
        x = title.put(x, loaded.exercise.title, ink.HEAD)
        x = title.put(x, f" {dot} {loaded.riff or 'the whole form'}", ink.PLAIN)
        for mark in marks:
            x = title.put(x, f" {dot} {mark}", ink.MARK)
        for right in (f"{riff.key}  {bar.meter}   {where}", f"{riff.key}  {bar.meter}", ""):
            if x + len(right) + 3 <= width:
                title.put(width - len(right) - 1, right, ink.QUIET)
                break
        self._screen.query_one("#title", Rows).show([title.row()])

    def show_head(self, state: SessionState, head: Playhead, said: str) -> float:
        """Show where the sound is. Returns the seconds until there is something new to show."""
        tab, panel = self._screen.query_one(TabView), self._screen.query_one(PanelView)
        tab.set_place(head.place, head.pass_number - 1, head.playing or head.counting_in)
        self._screen.query_one(NeckView).set_place(head.place, head.bar)
        narrow = not self.layout.wide and self._screen.size.width < NARROW
        facts = facts_for(state, head, state.chosen_part, self._pen, said=said, narrow=narrow)
        panel.set_facts(facts, self._pen, self.layout.usual)
        if panel.lacking != self._lacking:
            self.lay_out(*self._wanted)
        bar = state.loaded.piece.bars[head.bar]
        marked = tab.head.column if tab.head else None
        return next_look(head, marked.at + marked.length if marked else None, bar.at, bar.meter)


def parts_in_view(state: SessionState) -> tuple[str, ...]:
    """The parts that are drawn, mine first: it stays when the window is too low for all."""
    mine, loaded = state.mine, state.loaded
    if state.choices.view is View.MINE:
        return (mine,)
    wanted: Sequence[str] = loaded.parts
    if state.choices.view is View.BOTH:
        other = loaded.other(mine)
        wanted = (mine, other) if other and mine in loaded.guitars else (mine, *loaded.guitars[:1])
    return tuple(dict.fromkeys((mine, *wanted)))


def words_pane(choices: Choices) -> Pane:
    """Whether the pane for the lesson's words is shown, be it with the explanation in their place."""
    return choices.prose if choices.explain is Pane.OFF else choices.explain
