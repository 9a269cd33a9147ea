"""The stand: the tab with its playhead, the state of practising, the neck and the lesson's words, and every key."""

from collections.abc import Sequence

from textual import work
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.message import Message
from textual.screen import Screen

from trainer.music.printable import printable
from trainer.music.problem import ProblemsError
from trainer.screens.actions import APPLICATION, actions_for
from trainer.screens.bindings import bindings_for
from trainer.screens.choices import Begin, Pane, View
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import RowBuilder
from trainer.screens.drawing.prose import prose_rows
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.facts import facts_for
from trainer.screens.file_watch import FileRead, stamp_of
from trainer.screens.messages import Tell
from trainer.screens.pedal_watch import PedalWatch
from trainer.screens.practising import Practising
from trainer.screens.silent_sink import SilentSink
from trainer.screens.stand_layout import TOO_SMALL, Layout, layout_for
from trainer.screens.stand_listening import Listens
from trainer.screens.stand_rereading import Rereads
from trainer.screens.stand_working_out import words_pane
from trainer.screens.stood import Stood
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.neck_view import NeckView
from trainer.screens.widgets.panel_view import PanelView
from trainer.screens.widgets.rows import Rows
from trainer.screens.widgets.scrolled_rows import ScrolledRows
from trainer.screens.widgets.tab_view import Music, TabView
from trainer.screens.wiring import Sounding, Wiring

NARROW = 100
"""Cells of a window under which the panel says less at once."""
GRACE = 0.15
"""Seconds in which an exercise may be asked for before the last one is taken up."""
SHORTEST, LONGEST, RESTING = 0.03, 0.1, 0.2
"""Seconds between two looks at the playhead: while playing until the next column is due, within bounds; and at rest."""


class StandScreen(Listens, Rereads, Screen[None]):
    """One exercise, being practised."""

    BINDINGS = bindings_for("stand")
    CSS_PATH = "stand.tcss"
    page = "stand"

    class Opened(Message):
        """An exercise was read in the background: it, or why it cannot be played."""

        def __init__(
            self, stood: Stood | None, problem: str, part: str, begin: Begin | None = None, file: FileRead | None = None
        ) -> None:
            super().__init__()
            self.stood, self.problem, self.part, self.begin, self.file = stood, problem, part, begin, file

    class SoundReady(Message):
        """The sound was opened in the background."""

        def __init__(self, sounding: Sounding) -> None:
            super().__init__()
            self.sounding = sounding

    class Changed(Message):
        """Something is new to show."""

    def __init__(self, wiring: Wiring) -> None:
        super().__init__()
        self.wiring = wiring
        self.practising: Practising | None = None
        self.chosen = 0
        self.cursor = 0
        self.said = ""
        self._sounding: Sounding | None = None
        self._staff_rows = 0
        self._asked = False
        self._words: str | None = None
        self.panes = Layout()
        self.pedal = PedalWatch(wiring.memory, wiring.open_input, self.tell)

    def compose(self) -> ComposeResult:
        """Title, music, panel, words and hints."""
        yield Rows(id="title")
        yield HintsView(id="hints")
        with Container(id="body"):
            with Vertical(id="music"):
                yield TabView(id="tab")
                yield Rows(id="heard")
                yield NeckView(id="neck")
            with Vertical(id="side"):
                yield PanelView(id="panel")
                yield ScrolledRows(id="prose")
        yield Rows(id="small")

    def on_mount(self) -> None:
        """Open the sound and the pedal, and begin to look at the playhead."""
        self.query_one(HintsView).set_actions((*actions_for(self.page), *APPLICATION), self.wiring.pen)
        self.open_sound()
        self.pedal.begin()
        self._tick()
        self.lay_out()
        self.set_timer(GRACE, self._go_on)

    def _go_on(self) -> None:
        """Take up what was on the stand last, when nothing else was asked for."""
        last = self.wiring.memory.last
        if self.practising is None and not self._asked and last is not None:
            self.open_exercise(*last)

    def on_unmount(self) -> None:
        """End the sound."""
        self.end()

    def end(self) -> None:
        """All notes off, and everything closed; may be called twice."""
        self.pedal.close()
        self.end_listening()
        self.end_watching()
        practising, self.practising = self.practising, None
        if practising is not None:
            practising.close()
        elif self._sounding is not None:
            self._sounding.sink.close()
        self._sounding = None

    def tell(self, sentence: str) -> None:
        """Say something to the player; from any thread."""
        self.post_message(Tell(sentence))

    def on_tell(self, message: Tell) -> None:
        """Show it on the panel's last line."""
        message.stop()
        self.said = message.sentence
        self.show_state()

    # -- opening ------------------------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="sound")
    def open_sound(self) -> None:
        """Open what sounds; a device that hangs must not hold up the screen."""
        self.post_message(self.SoundReady(self.wiring.open_sound(self.wiring.memory.get("out") or "")))

    def on_stand_screen_sound_ready(self, message: SoundReady) -> None:
        """Sound there from now on."""
        self._sounding = message.sounding
        if message.sounding.trouble:
            self.said = f"{message.sounding.trouble} The stand works in silence."
        if self.practising is not None:
            running = self.practising.running
            self.practising.use(message.sounding)
            if running:
                self.practising.start()
        self.show_state()

    def open_exercise(self, exercise: str, riff: str | None, part: str = "", begin: Begin | None = None) -> None:
        """Read an exercise in the background and put a riff of it on the stand.

        Args:
            exercise: its id.
            riff: the riff's name; "" for the form; None for the riff that was on the stand last, else the first.
            part: my part; empty for the one it was.
            begin: how to begin; None for as it was left.
        """
        self._asked = True
        self._read_exercise(exercise, riff, part, begin)

    @work(thread=True, exclusive=True, group="reading")
    def _read_exercise(self, exercise: str, riff: str | None, part: str, begin: Begin | None) -> None:
        try:
            path = self.wiring.exercises.find(exercise)
            file = FileRead(path, stamp_of(path))
            found = self.wiring.exercises.read(path)
            last = self.wiring.memory.last
            if riff is None:
                known = last is not None and last[0] == found.id and (not last[1] or found.riff(last[1]))
                riff = last[1] if known and last is not None else found.riffs[0].name if found.riffs else ""
            if riff and found.riff(riff) is None:
                riff = found.riffs[0].name
            self.post_message(self.Opened(Stood.of(found, riff, self.wiring.rig), "", part, begin, file))
        except ProblemsError as error:
            self.post_message(self.Opened(None, str(error), part))
        except ValueError as error:
            self.post_message(self.Opened(None, f"This exercise cannot be played: {error}.", part))

    def on_stand_screen_opened(self, message: Opened) -> None:
        """Put it on the stand, or say why not."""
        stood = message.stood
        if stood is None:
            self.said = printable(message.problem)
            self.show_state()
            if self.practising is None:
                self.app.notify(self.said, severity="warning", timeout=20, markup=False)
            return
        try:
            if self.practising is None:
                sounding = self._sounding or Sounding(SilentSink(self.wiring.clock), "silence")
                self.practising = Practising(self.wiring, stood, sounding, changed=self._say_changed, tell=self.tell)
                self.follow_listening()
            else:
                self.practising.open(stood)
        except ProblemsError as error:
            self.said = printable(str(error))
            self.show_state()
            return
        if message.file is not None:
            self.watch_file(stood.exercise.id, message.file)
        if message.part:
            self.take(message.part)
        if message.begin:
            self.practising.begin(message.begin)
        self.cursor = self.practising.standing.choices.first
        self.chosen = 0
        self.said = self._greeting()
        self.show_music()

    def _greeting(self) -> str:
        if self._sounding is not None and self._sounding.trouble:
            return f"{self._sounding.trouble} The stand works in silence."
        return ""

    # -- showing ------------------------------------------------------------------------------------------------

    def on_resize(self) -> None:
        """Arrange everything anew."""
        self.lay_out()

    def lay_out(self) -> None:
        """Give every pane its place in the window."""
        choices = self.practising.standing.choices if self.practising else None
        neck = self.query_one(NeckView)
        wanted = (choices.neck, words_pane(choices)) if choices else (Pane.OFF, Pane.OFF)
        self.panes = layout_for(self.size.width, self.size.height, *wanted, neck.lines, self._staff_rows)
        where = self.panes
        self.set_class(where.wide, "wide")
        self.set_class(where.small, "small")
        side, panel, prose = self.query_one("#side"), self.query_one(PanelView), self.query_one("#prose")
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

    def show_music(self) -> None:
        """Show the music and everything that is said of it."""
        practising = self.practising
        if practising is None:
            return
        standing = practising.standing
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
        self._show_head()

    def on_stand_screen_changed(self) -> None:
        """Show what changed, in whatever thread that was."""
        if self.practising is not None:
            self.show_music()
            self.offer_break()

    def _say_changed(self) -> None:
        self.post_message(self.Changed())

    def _show_head(self) -> float:
        """Show where the sound is; answers how long until there is something new to show."""
        practising = self.practising
        if practising is None:
            return RESTING
        head, standing = practising.playhead(), practising.standing
        tab = self.query_one(TabView)
        tab.set_place(head.place, head.pass_number - 1, head.playing or head.counting_in)
        self.query_one(NeckView).set_place(head.place, head.bar)
        narrow = not self.panes.wide and self.size.width < NARROW
        pen = self.wiring.pen
        facts = facts_for(standing, head, self.chosen_part(), pen, said=self.said, narrow=narrow)
        self.query_one(PanelView).set_facts(facts, pen)
        if not (head.playing or head.counting_in):
            return RESTING
        column = tab.head
        if head.counting_in or column is None or not head.a_second:
            return SHORTEST
        left = (column.column.at + column.column.length - head.place) / head.a_second
        return min(max(float(left) + 0.002, SHORTEST), LONGEST)

    def _tick(self) -> None:
        for outcome in self.pedal.poll():
            self.action_judge(str(outcome))
        wait = self._show_head() if self.is_current else RESTING
        self.set_timer(min(wait, 0.05) if self.pedal.listening else wait, self._tick)
