"""What the stand's screen shows: every pane in its place, the music, the words, and the title."""

from collections.abc import Sequence

from trainer.screens.choices import Pane, View
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import RowBuilder
from trainer.screens.drawing.prose import prose_rows
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.stand_layout import TOO_SMALL, Layout, layout_for, panel_lines
from trainer.screens.stand_listening import Listens
from trainer.screens.stand_rereading import Rereads
from trainer.screens.stand_working_out import words_pane
from trainer.screens.standing import Standing
from trainer.screens.widgets.neck_view import NeckView
from trainer.screens.widgets.panel_view import PanelView
from trainer.screens.widgets.rows import Rows
from trainer.screens.widgets.scrolled_rows import ScrolledRows
from trainer.screens.widgets.tab_view import Music, TabView


class Shows(Listens, Rereads):
    """The stand's screen, shown."""

    def __init__(self) -> None:
        super().__init__()
        self.panes = Layout()
        self.lacking = 0
        """Lines that the panel needed besides the usual ones when the panes were laid out."""
        self._staff_rows = 0
        self._words: str | None = None
        self._shown: tuple[object, ...] = ()

    def show_head(self) -> None:
        """Show where the sound is."""

    def lay_out(self) -> None:
        """Give every pane its place in the window."""
        choices = self.practising.standing.choices if self.practising else None
        neck = self.query_one(NeckView)
        wanted = (choices.neck, words_pane(choices)) if choices else (Pane.OFF, Pane.OFF)
        panel = self.query_one(PanelView)
        self.lacking = panel.lacking
        self.panes = layout_for(*self.size, *wanted, neck.lines, self._staff_rows, self.lacking)
        where = self.panes
        self.set_class(where.wide, "wide")
        self.set_class(where.small, "small")
        side, prose = self.query_one("#side"), self.query_one("#prose")
        side.styles.width = where.side if where.wide else "100%"
        side.styles.height = "100%" if where.wide else where.panel + where.prose
        panel.styles.height = where.panel
        prose.display = where.prose > 0
        neck.display = where.neck > 0
        neck.styles.height = where.neck or 1
        heard = self.query_one("#heard")
        heard.display = self.heard_lines() > 0
        heard.styles.height = self.heard_lines() or 1
        small = self.query_one("#small", Rows)
        small.display = where.small
        for each in ("#title", "#hints", "#body"):
            self.query_one(each).display = not where.small
        if where.small:
            lines = TOO_SMALL.split("\n")
            builders = [RowBuilder(max(1, self.size.width)) for _ in lines]
            for builder, line in zip(builders, lines, strict=True):
                builder.put(0, line, ink.PLAIN)
            small.show([builder.row() for builder in builders])

    @property
    def is_cut(self) -> bool:
        """Whether the panel has no room for all that was said."""
        return self.lacking > self.panes.panel - panel_lines(*self.size)

    def show_change(self) -> None:
        """Show the state, and all of the music where something changed in that: not at every downbeat."""
        practising = self.practising
        if practising is None or self._shown == self._what_shows(practising.standing):
            self.show_state()
        else:
            self.show_music()

    def _what_shows(self, standing: Standing) -> tuple[object, ...]:
        """All that the music and the words depend on, besides the window."""
        bpm = standing.share if standing.choices.explain is not Pane.OFF else None
        return (id(standing.stood), standing.choices, standing.loop, self.cursor, self.listener is None, bpm)

    def show_music(self) -> None:
        """Show the music and everything that is said of it."""
        practising = self.practising
        if practising is None:
            return
        standing = practising.standing
        self._shown = self._what_shows(standing)
        stood, pen = standing.stood, self.wiring.pen
        parts = self.parts_in_view()
        listens = self.listener is not None
        quality = standing.choices.quality
        music = Music(stood.piece, parts, stood.letters, standing.loop, quality, self.cursor, pen, listens)
        self._staff_rows = staff_rows(stood.piece, parts)
        self.query_one(TabView).set_music(music)
        hands = {name: stood.letters[name] for name in stood.guitars[:2]}
        self.query_one(NeckView).set_music(stood.piece, hands, pen)
        self.show_words()
        self.lay_out()
        self.show_heard()
        self.show_state()

    def parts_in_view(self) -> tuple[str, ...]:
        """The parts that are drawn, mine first: it stays when the window is too low for all."""
        practising = self.practising
        if practising is None:
            return ()
        standing = practising.standing
        mine, stood = standing.mine, standing.stood
        if standing.choices.view is View.MINE:
            return (mine,)
        wanted: Sequence[str] = stood.parts
        if standing.choices.view is View.BOTH:
            other = stood.other(mine)
            wanted = (mine, other) if other and mine in stood.guitars else (mine, *stood.guitars[:1])
        return tuple(dict.fromkeys((mine, *wanted)))

    def show_words(self) -> None:
        """The lesson's words: the exercise's, then the riff's; or the explanation in their place."""
        if self.practising is None:
            return
        if self.practising.standing.choices.explain is not Pane.OFF:
            self._words = None
            self.show_explanation()
            return
        self.forget_explanation()
        stood = self.practising.standing.stood
        riffs = [stood.exercise.riff(stood.riff)] if stood.riff else list(stood.exercise.riffs)
        texts = [stood.exercise.prose, *(f"## {riff.name}\n\n{riff.prose}" for riff in riffs if riff and riff.prose)]
        text = "\n\n".join(text for text in texts if text)
        prose = self.query_one("#prose", ScrolledRows)
        if text != self._words:
            self._words = text
            prose.set_source(lambda width: prose_rows(text, width))

    def show_state(self) -> None:
        """The title, the panel and the playhead."""
        practising = self.practising
        width, pen = max(1, self.size.width), self.wiring.pen
        title = RowBuilder(width)
        if practising is None:
            title.put(1, self.said or "Nothing is on the stand. F2 opens the shelf.", ink.HEAD)
            self.query_one("#title", Rows).show([title.row()])
            return
        standing = practising.standing
        stood = standing.stood
        bar = stood.piece.bars[min(self.cursor, len(stood.piece.bars) - 1)]
        riff = stood.piece.riffs[bar.riff].riff
        x = title.put(1, stood.exercise.title, ink.HEAD)
        x = title.put(x, f" {pen.dot} {stood.riff or 'the whole form'}", ink.PLAIN)
        if tried := self.tried():
            x = title.put(x, f" {pen.dot} not written: {tried}", ink.MARK)
        if self.newer is not None:
            x = title.put(x, f" {pen.dot} changed on disk: N", ink.MARK)
        where = practising.player.sounding.where
        for right in (f"{riff.key}  {bar.meter}   {where}", f"{riff.key}  {bar.meter}", ""):
            if x + len(right) + 3 <= width:
                title.put(width - len(right) - 1, right, ink.QUIET)
                break
        self.query_one("#title", Rows).show([title.row()])
        self.show_head()
