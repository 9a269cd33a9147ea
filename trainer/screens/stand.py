"""The stand: the tab with its playhead, the state of practising, the neck and the lesson's words, and every key."""

from typing import NamedTuple

from textual import work
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.message import Message
from textual.screen import Screen

from trainer.music.printable import printable
from trainer.music.problem import ProblemsError
from trainer.screens.actions import APPLICATION, actions_for
from trainer.screens.bindings import bindings_for
from trainer.screens.choices import Begin
from trainer.screens.file_watch import FileRead, stamp_of
from trainer.screens.messages import Tell
from trainer.screens.pedal_watch import PedalWatch
from trainer.screens.practising import Practising
from trainer.screens.silent_sink import SilentSink
from trainer.screens.stand_following import Follows
from trainer.screens.stand_hearing import OPENING
from trainer.screens.stood import Stood
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.neck_view import NeckView
from trainer.screens.widgets.panel_view import PanelView
from trainer.screens.widgets.rows import Rows
from trainer.screens.widgets.scrolled_rows import ScrolledRows
from trainer.screens.widgets.tab_view import TabView
from trainer.screens.wiring import Sounding, Wiring

GRACE = 0.15
"""Seconds in which an exercise may be asked for before the last one is taken up."""
READ_S = 3.0
"""Seconds that a sentence stays, so that it can be read, when another one comes."""


class Told(NamedTuple):
    """What was told last, all that was said with it, and when."""

    sentence: str
    said: str
    at: float


class StandScreen(Follows, Screen[None]):
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
        self._told: Told | None = None
        self._greeted = False
        self._sounding: Sounding | None = None
        self._asked = False
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
        self.lay_out()
        self.follow()
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
        """Show it on the panel's last lines; before one that nobody can have read yet."""
        message.stop()
        now, sentence, before, was = self.wiring.clock(), message.sentence, self._told, self.said
        self.said = sentence
        if before is not None and before.said == was and now < before.at + READ_S and before.sentence != sentence:
            self.said = f"{sentence} {before.sentence}"
        self._told = Told(sentence, self.said, now)
        self._show_whole(sentence)

    def _show_whole(self, sentence: str) -> None:
        """Show what was said; a sentence for which the panel has no room, once beside it too."""
        self.show_state()
        if self.is_cut:
            self.app.notify(sentence, severity="warning", timeout=12, markup=False)

    # -- opening ------------------------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="sound")
    def open_sound(self) -> None:
        """Open what sounds; a device that hangs must not hold up the screen."""
        self.post_message(self.SoundReady(self.wiring.open_sound(self.wiring.memory.get("out") or "")))

    def on_stand_screen_sound_ready(self, message: SoundReady) -> None:
        """Sound there from now on."""
        self._sounding = message.sounding
        if self.practising is not None:
            running = self.practising.running
            self.practising.use(message.sounding)
            if running:
                self.practising.start()
        if message.sounding.trouble:
            self.said = f"{message.sounding.trouble} The stand works in silence."
            self._show_whole(self.said)
            return
        if self.said == OPENING:
            self.said = ""
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
                self.follow_passes()
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
        if self.said and not self._greeted:
            self._greeted = True
            self._show_whole(self.said)

    def _greeting(self) -> str:
        if self._sounding is not None and self._sounding.trouble:
            return f"{self._sounding.trouble} The stand works in silence."
        return ""

    # -- changes ------------------------------------------------------------------------------------------------

    def on_resize(self) -> None:
        """Arrange everything anew."""
        self.lay_out()

    def on_stand_screen_changed(self) -> None:
        """Show what changed, in whatever thread that was."""
        if self.practising is not None:
            self.show_change()
            self.offer_break()

    def _say_changed(self) -> None:
        self.post_message(self.Changed())
