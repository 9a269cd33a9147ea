"""The stand: the tab with its playhead, the state of practising, the neck and the lesson's words, and every key.

A key names an action of the table. Most are a session's (`session.actions.NAMED`) and go straight to it; those that ask
something or only change what is shown are in `_own`. What the session tells comes back as `Happened`.
"""

from collections.abc import Callable, Mapping
from functools import partial

from textual import work
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.message import Message
from textual.screen import Screen

from trainer.music.printable import printable
from trainer.music.problem import ProblemsError
from trainer.playback.piece import Loop
from trainer.practice.cautions import Where, cautions
from trainer.practice.sittings import mark_seen, seen
from trainer.practice.verdict import Outcome
from trainer.screens.actions import action, bindings_for, stand_hints
from trainer.screens.drawing.pen import Pen
from trainer.screens.facts import playing_words
from trainer.screens.messages import NowPlaying, Tell
from trainer.screens.stand_asking import Questions
from trainer.screens.stand_following import RESTING, Following
from trainer.screens.stand_hearing import StandInput
from trainer.screens.stand_panes import Panes
from trainer.screens.stand_working_out import ExplainPane, WorkingOut
from trainer.screens.widgets.neck_view import NeckView
from trainer.screens.widgets.page_lines import HintsView
from trainer.screens.widgets.panel_view import PanelView
from trainer.screens.widgets.rows import DrawnPanel, Rows, ScrolledRows
from trainer.screens.widgets.tab_view import TabView
from trainer.session.actions import (
    NAMED,
    Begin,
    ChooseBar,
    ChoosePart,
    Finish,
    JudgePass,
    SessionAction,
    SetLoop,
    ShowPanes,
    Start,
    Stop,
    TakePart,
)
from trainer.session.choices import Pane
from trainer.session.events import (
    BreakDue,
    Changed,
    InputGone,
    PassCounted,
    PassHeard,
    PassSettled,
    Reply,
    SessionEvent,
    Told,
)
from trainer.session.file_watch import FileRead, stamp_of
from trainer.session.machine import Machine, Sounding
from trainer.session.memory import OUTPUT
from trainer.session.music import LoadedExercise
from trainer.session.pedal_watch import PedalWatch
from trainer.session.proposal import word_is_wanted
from trainer.session.session import PracticeSession
from trainer.session.silent_sink import SilentSink
from trainer.session.state import SessionState

GRACE = 0.15
"""Seconds in which an exercise may be asked for before the last one is taken up."""
PEDAL = 0.05
"""The most seconds between two looks at a foot pedal."""
OPENING = "Opening the sound."


class StandScreen(Screen[None]):
    """One exercise, being practised."""

    BINDINGS = bindings_for("stand")
    CSS_PATH = "stand.tcss"
    page = "stand"

    class Opened(Message):
        """An exercise was read in the background: it, or why it cannot be played."""

        def __init__(
            self,
            loaded: LoadedExercise | None,
            problem: str,
            part: str,
            begin: Begin | None = None,
            file: FileRead | None = None,
        ) -> None:
            super().__init__()
            self.loaded, self.problem, self.part, self.begin, self.file = loaded, problem, part, begin, file

    class SoundReady(Message):
        """The sound was opened in the background."""

        def __init__(self, sounding: Sounding) -> None:
            super().__init__()
            self.sounding = sounding

    class Happened(Message):
        """Something happened in the session, in whatever thread that was."""

        def __init__(self, event: SessionEvent) -> None:
            super().__init__()
            self.event = event

    def __init__(self, machine: Machine, pen: Pen) -> None:
        super().__init__()
        self.machine, self._pen = machine, pen
        self.session: PracticeSession | None = None
        self.said = ""
        self.sounding: Sounding | None = None
        """Where it sounds; None until the sound was opened."""
        self._playing = ""
        """What every screen shows of the playing."""
        self._settled = ""
        """What was last said of a pass without being asked."""
        self._greeted = self._asked = False
        self._shown: tuple[object, ...] = ()
        self.pedal = PedalWatch(machine.memory, machine.inputs.open_midi, self.tell)
        self.panes = Panes(self, pen)
        self.hearing = StandInput(
            self, machine, pen, lambda: self.session, tell=self.tell, unsay=self._unsay, changed=self.show_music
        )
        self.questions = Questions(
            self, machine, pen, self._the_session, self.pedal, tell=self.tell, sound_again=self._sound_again
        )
        self.explanation = ExplainPane(self, self.machine)
        self.working_out = WorkingOut(self, machine, lambda: self.session, tell=self.tell, show=self._say_and_show)
        self.following = Following(self, machine.clock, self._look)
        self._own: Mapping[str, Callable[[], None]] = {
            "pedal": self.questions.learn_pedal,
            "listen": self.hearing.choose_input,
            "heard": self.hearing.show_all,
            "takes": self.questions.show_takes,
            "follow": self._follow,
            "tempo": self.questions.ask_tempo,
            "bars": self.questions.ask_bars,
            "form": self._toggle_form,
            "next_riff": partial(self._riff_by, 1),
            "previous_riff": partial(self._riff_by, -1),
            "neck": self._toggle_neck,
            "prose": self._toggle_prose,
            "explain": self._toggle_explain,
            "prose_down": partial(self._scroll_words, 1),
            "prose_up": partial(self._scroll_words, -1),
            "sound": self.questions.choose_sound,
            "sound_again": self._sound_again,
            "fingering": partial(self.working_out.try_fingering, 1),
            "fingering_back": partial(self.working_out.try_fingering, -1),
            "harmony": partial(self.working_out.try_harmony, 1),
            "harmony_back": partial(self.working_out.try_harmony, -1),
            "harmony_list": self.working_out.ask_harmony,
            "as_written": self.working_out.as_written,
            "write": self.working_out.write,
            "take_back": self.working_out.take_back,
            "newer": self._take_newer,
        }

    def compose(self) -> ComposeResult:
        """Title, music, panel, words and hints."""
        yield Rows(id="title")
        yield HintsView(self.page, self._pen, id="hints")
        with Container(id="body"):
            with Vertical(id="music"):
                yield TabView(id="tab")
                yield DrawnPanel(id="heard")
                yield NeckView(id="neck")
            with Vertical(id="side"):
                yield PanelView(id="panel")
                yield ScrolledRows(id="prose")
        yield Rows(id="small")

    def on_mount(self) -> None:
        """Open the sound and the pedal, and begin to look at the playhead."""
        self.app.mode_change_signal.subscribe(self, self._page_changed)
        self.open_sound()
        self.pedal.begin()
        self._lay_out()
        self._look()
        self.set_timer(GRACE, self._go_on)

    def _go_on(self) -> None:
        """Take up what was on the stand last, when nothing else was asked for."""
        last = self.machine.memory.last
        if self.session is None and not self._asked and last is not None:
            self.open_exercise(*last)

    def on_unmount(self) -> None:
        """End the sound."""
        self.end()

    def _page_changed(self, page: str) -> None:
        """Play the pass to its end and stop, when the player goes to another screen: each one shows what is played."""
        if page != self.page and self.session is not None and self.session.running:
            self.apply(Finish())

    def stop(self) -> bool:
        """Stop the playing; returns whether anything was played."""
        playing = self.session is not None and self.session.running
        if playing:
            self.apply(Stop())
        return playing

    def end(self) -> None:
        """All notes off, and everything closed; may be called twice."""
        self.pedal.close()
        self.hearing.end()
        self.working_out.end()
        if self.session is not None:
            self.session.close()
        elif self.sounding is not None:
            self.sounding.sink.close()
        self.session = self.sounding = None

    # -- actions ------------------------------------------------------------------------------------------------

    def check_action(self, name: str, parameters: tuple[object, ...]) -> bool | None:
        """What needs music is disabled while nothing is on the stand, as the table says."""
        if self.session is not None:
            return True
        if name == "do":
            return not action(str(parameters[0]), self.page).needs_music
        return name != "choose"

    def action_do(self, name: str) -> None:
        """Carry out the table's action of this name."""
        if name == "clean" and self._enter_follows():
            self._follow()
        elif name in NAMED:
            self.apply(NAMED[name])
        else:
            self._own[name]()

    def _enter_follows(self) -> bool:
        """Whether Enter does what the verdict proposes: no word on a pass is wanted of the player."""
        session = self.session
        wanted = session is None or word_is_wanted(session.state, running=session.running)
        return not wanted and self.hearing.proposal() is not None

    def _follow(self) -> None:
        """Do what the last verdict proposes."""
        proposal = self.hearing.proposal()
        if proposal is None:
            self.tell("No verdict proposes anything now. L turns listening on.")
            return
        for each in proposal.actions:
            self.apply(each)
        self.said = f"Set: {proposal.words}."
        self.show_music()

    def action_choose(self, index: int) -> None:
        """Choose the part with this index; once more, and it is heard or not."""
        self.apply(ChoosePart(index))

    def apply(self, session_action: SessionAction) -> None:
        """Let the session do something, and show its answer."""
        if self.session is not None:
            self._answer(self.session.apply(session_action))

    def _answer(self, reply: Reply) -> None:
        if reply.refused:
            self.tell(reply.said or "")
        elif reply.said is not None:
            self.said = reply.said
        if reply.caution is not None:
            self._caution(reply.caution)

    def _caution(self, where: Where, again: bool = False) -> None:
        """Show what belongs here and was not put away, once."""
        log = self.machine.log
        for caution in cautions(where, frozenset() if again else log.ask(seen)):
            self.app.notify(caution.text, title=caution.title, timeout=12, markup=False)
            log.change(mark_seen, caution.id, round(self.machine.now().timestamp() * 1000))

    # -- events -------------------------------------------------------------------------------------------------

    def on_stand_screen_happened(self, message: Happened) -> None:
        """Show what happened in the session."""
        match message.event:
            case Told(sentence):
                self._say(sentence)
            case Changed():
                self._show_change()
            case PassSettled(outcome, said, caution):
                self._show_settled(outcome, said, caution)
            case PassHeard(heard):
                self.hearing.pass_heard(heard)
            case InputGone(sentence):
                self.hearing.gone(sentence)
            case BreakDue():
                self._caution(Where.BREAK, again=True)
            case PassCounted():
                pass

    def _show_settled(self, outcome: Outcome, said: str, caution: Where | None) -> None:
        """Say what follows from a pass; of one that nobody judged, nothing."""
        if outcome is not Outcome.UNJUDGED:
            self.said = self._settled = said
            if caution is not None:
                self._caution(caution)
        elif self.said == self._settled:
            self.said = self._settled = ""
        self.show_state()

    def tell(self, sentence: str) -> None:
        """Say something to the player; from any thread."""
        self.post_message(Tell(sentence))

    def on_tell(self, message: Tell) -> None:
        """Say it here, not in a corner of the window."""
        message.stop()
        self._say(message.sentence)

    def _say(self, sentence: str) -> None:
        """Say something on the panel's last lines: there stands the newest sentence, and no other."""
        self.said = sentence
        self._show_whole(sentence)

    def _unsay(self, sentence: str) -> None:
        """Take a sentence back that is no longer true."""
        if self.said == sentence:
            self.said = ""
            self.show_state()

    def _show_whole(self, sentence: str) -> None:
        """Show what was said; a sentence for which the panel has no room, once beside it too."""
        self.show_state()
        if self.panes.is_cut:
            self.app.notify(sentence, severity="warning", timeout=12, markup=False)

    def _say_and_show(self, sentence: str) -> None:
        self.said = sentence
        self.show_music()

    # -- opening ------------------------------------------------------------------------------------------------

    @work(thread=True, exclusive=True, group="sound")
    def open_sound(self) -> None:
        """Open what sounds; a device that hangs must not hold up the screen."""
        self.post_message(self.SoundReady(self.machine.outputs.open(self.machine.memory.get(OUTPUT))))

    def on_stand_screen_sound_ready(self, message: SoundReady) -> None:
        """Sound there from now on."""
        self.sounding = message.sounding
        if self.session is not None:
            running = self.session.running
            self.session.use(message.sounding)
            if running:
                self.session.apply(Start())
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
            path = self.machine.exercises.find(exercise)
            file = FileRead(path, stamp_of(path))
            found = self.machine.exercises.read(path)
            last = self.machine.memory.last
            if riff is None:
                known = last is not None and last[0] == found.id and (not last[1] or found.riff(last[1]))
                riff = last[1] if known and last is not None else found.riffs[0].name if found.riffs else ""
            if riff and found.riff(riff) is None:
                riff = found.riffs[0].name
            loaded = LoadedExercise.of(found, riff, self.machine.rig, self.machine.settings().ladder)
            self.post_message(self.Opened(loaded, "", part, begin, file))
        except ProblemsError as error:
            self.post_message(self.Opened(None, str(error), part))
        except ValueError as error:
            self.post_message(self.Opened(None, f"This exercise cannot be played: {error}.", part))

    def on_stand_screen_opened(self, message: Opened) -> None:
        """Put it on the stand, or say why not."""
        loaded = message.loaded
        if loaded is None:
            self.said = printable(message.problem)
            self.show_state()
            if self.session is None:
                self.app.notify(self.said, severity="warning", timeout=20, markup=False)
            return
        try:
            if self.session is None:
                sounding = self.sounding or Sounding(SilentSink(self.machine.clock), "silence")
                self.session = PracticeSession(self.machine, loaded, sounding, self._tell_happened)
            else:
                self.session.load(loaded)
        except ProblemsError as error:
            self.said = printable(str(error))
            self.show_state()
            return
        if message.file is not None:
            self.working_out.watch(loaded.exercise.id, message.file)
        if message.part:
            self._answer(self.session.apply(TakePart(message.part)))
        if message.begin:
            self.session.apply(message.begin)
        trouble = self.sounding.trouble if self.sounding is not None else ""
        self.said = f"{trouble} The stand works in silence." if trouble else ""
        self.show_music()
        if self.said and not self._greeted:
            self._greeted = True
            self._show_whole(self.said)

    def _tell_happened(self, event: SessionEvent) -> None:
        self.post_message(self.Happened(event))

    # -- showing ------------------------------------------------------------------------------------------------

    def on_resize(self) -> None:
        """Arrange everything anew."""
        self._lay_out()

    def _lay_out(self) -> None:
        self.panes.lay_out(self.session.state.choices if self.session else None, self.hearing.on)

    def _show_change(self) -> None:
        """Show the state, and all of the music where something changed in that: not at every downbeat."""
        if self.session is not None and self._shown != self._what_shows(self.session.state):
            self.show_music()
        else:
            self.show_state()

    def _what_shows(self, state: SessionState) -> tuple[object, ...]:
        """All that the music and the words depend on, besides the window."""
        choices = state.choices
        bpm = state.share if choices.explain is not Pane.OFF else None
        drawn = choices.mine, choices.view, choices.quality, choices.neck, choices.prose, choices.explain
        return (id(state.loaded), drawn, state.loop, state.bar, self.hearing.on, bpm, state.decides)

    def show_music(self) -> None:
        """Show the music and everything that is said of it."""
        if self.session is None:
            return
        state = self.session.state
        self._shown = self._what_shows(state)
        self.panes.show_music(state, strip=self.hearing.on)
        if state.choices.explain is Pane.OFF:
            self.explanation.forget()
            self.panes.show_lesson(state)
        else:
            self.panes.forget_lesson()
            self.explanation.show(state)
        self._lay_out()
        self.hearing.show()
        self.show_state()

    def show_state(self) -> None:
        """Show the title, the panel and the playhead."""
        hints = self.query_one(HintsView)
        if self.session is None:
            self.panes.show_nothing(self.said)
            hints.set_actions(())
            return
        hints.set_actions(stand_hints(playing=self.session.running, listening=self.hearing.on))
        playing = playing_words(self.session.state, self._pen) if self.session.running else ""
        if playing != self._playing:
            self._playing = playing
            self.post_message(NowPlaying(playing))
        marks = [f"not written: {tried}"] if (tried := self.working_out.tried()) else []
        if self.working_out.newer is not None:
            marks.append("changed on disk: N")
        self.panes.show_title(self.session.state, self.session.sounding.where, marks, playing=bool(playing))
        self._look_in(self._show_head())

    def _show_head(self) -> float:
        """Show where the sound is. Returns the seconds until there is something new to show."""
        if self.session is None:
            return RESTING
        return self.panes.show_head(self.session.state, self.session.playhead(), self.said)

    def _look(self) -> None:
        """Look at the pedal and the playhead, and go on looking."""
        for outcome in self.pedal.poll():
            self.apply(JudgePass(outcome))
        self._look_in(self._show_head() if self.is_current else RESTING)

    def _look_in(self, seconds: float) -> None:
        self.following.look_in(min(seconds, PEDAL) if self.pedal.listening else seconds)

    # -- what asks, or only changes what is shown ---------------------------------------------------------------

    def _the_session(self) -> PracticeSession:
        if self.session is None:
            raise RuntimeError("nothing is on the stand")
        return self.session

    @property
    def _state(self) -> SessionState:
        return self._the_session().state

    def on_tab_view_selected(self, message: TabView.Selected) -> None:
        """Bars were chosen with the mouse: one is chosen, several are looped."""
        self.apply(ChooseBar(message.first))
        if message.last > message.first:
            self.apply(SetLoop(Loop(message.first, message.last)))

    def _toggle_form(self) -> None:
        """The whole form, or the riff."""
        state = self._state
        piece = state.loaded.piece
        bar = piece.bars[min(state.bar, len(piece.bars) - 1)]
        self._put_riff_on("" if state.loaded.riff else piece.riffs[bar.riff].riff.name)

    def _riff_by(self, step: int) -> None:
        """Another riff."""
        loaded = self._state.loaded
        names = [riff.name for riff in loaded.exercise.riffs]
        at = names.index(loaded.riff) if loaded.riff in names else -1 if step > 0 else 0
        self._put_riff_on(names[(at + step) % len(names)])

    def _put_riff_on(self, riff: str) -> None:
        """Another riff of the exercise; "" for the whole form."""
        self._put_on(
            LoadedExercise.of(self._state.loaded.exercise, riff, self.machine.rig, self.machine.settings().ladder)
        )

    def _put_on(self, loaded: LoadedExercise) -> None:
        if self.session is not None:
            self.session.load(loaded)
            self.show_music()

    def _take_newer(self) -> None:
        """Put the file's new version on the stand."""
        try:
            loaded = self.working_out.newer_version()
            if loaded is None:
                self.tell("The file is as it stands here.")
                return
            self._put_on(loaded)
        except (ProblemsError, ValueError) as error:
            self.tell(printable(str(error)))
            return
        self.working_out.newer = None
        self.said = "The new version is on the stand."
        self.show_state()

    def _toggle_neck(self) -> None:
        choices, gives_way = self._state.choices, self.panes.gives_way
        if self.panes.layout.neck:
            self.apply(ShowPanes(neck=Pane.OFF))
            return
        explain = choices.explain if choices.explain is Pane.OFF else gives_way(choices.explain)
        self.apply(ShowPanes(neck=Pane.ON, prose=gives_way(choices.prose), explain=explain))

    def _toggle_prose(self) -> None:
        choices = self._state.choices
        if self.panes.layout.prose and choices.explain is Pane.OFF:
            self.apply(ShowPanes(prose=Pane.OFF))
        else:
            self.apply(ShowPanes(prose=Pane.ON, explain=Pane.OFF, neck=self.panes.gives_way(choices.neck)))

    def _toggle_explain(self) -> None:
        choices = self._state.choices
        if self.panes.layout.prose and choices.explain is not Pane.OFF:
            self.apply(ShowPanes(explain=Pane.OFF))
        else:
            self.apply(ShowPanes(explain=Pane.ON, neck=self.panes.gives_way(choices.neck)))

    def _scroll_words(self, lines: int) -> None:
        self.query_one("#prose", ScrolledRows).scroll_rows(lines)

    def _sound_again(self) -> None:
        """Open the sound once more."""
        self.said = OPENING
        self.show_state()
        self.open_sound()
