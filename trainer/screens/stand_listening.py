"""What the stand's keys do about listening: on and off, who decides, and the passes that are judged."""

from contextlib import suppress
from fractions import Fraction
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message

from trainer.music.problem import ProblemsError
from trainer.playback.position import State
from trainer.playback.share import PassReport
from trainer.playback.sink import SinkGoneError
from trainer.practice.deciding import Decides
from trainer.practice.passes import Pass
from trainer.screens.asked import Heard, Music, Underway, asked
from trainer.screens.asking import Choose
from trainer.screens.drawing.heard_rows import sentences
from trainer.screens.known_late import Known, began, while_it_sounded
from trainer.screens.listener import Listener
from trainer.screens.loop_heard import Beside, LoopHeard
from trainer.screens.meter import Meter
from trainer.screens.stand_heard import WHO, ShowsHeard
from trainer.screens.standing import BUILDS

if TYPE_CHECKING:
    from trainer.listening.ahead import Judging
    from trainer.screens.ears import Ear
    from trainer.screens.practising import Practising
    from trainer.screens.wiring import Sounding

HEADPHONES = (
    "Use headphones: through loudspeakers the microphone hears the other parts too, and they would be judged with you. "
    "Keep them so low that you could still talk over them."
)
SLIPS_S = 0.1
"""Between two looks at one clock."""


def judges_apart() -> "Judging":
    """Who judges: a process of its own; this one where none can be started."""
    from trainer.listening.ahead import JudgesHere
    from trainer.listening.judge_link import JudgesApart

    try:
        return JudgesApart()
    except OSError:
        return JudgesHere()


def _unfinished(heard: Heard) -> str:
    """What is told of a pass that was broken off when nothing more is listened to."""
    return f"{heard.asked.said_first} {sentences(heard.judgement)[0]}"


class Listens(ShowsHeard):
    """Listening on the stand's screen."""

    if TYPE_CHECKING:

        def show_music(self) -> None: ...  # noqa: D102 - the screen's

    class EarOpened(Message):
        """An input was opened in the background, or why not."""

        def __init__(self, ear: "Ear | None", problem: str, card: bool, known: Known | None = None) -> None:
            super().__init__()
            self.ear, self.problem, self.card, self.known = ear, problem, card, known

    class PassHeard(Message):
        """A pass was judged by its take."""

        def __init__(self, heard: Heard) -> None:
            super().__init__()
            self.heard = heard

    class EarGone(Message):
        """The input went away."""

        def __init__(self, sentence: str) -> None:
            super().__init__()
            self.sentence = sentence

    def __init__(self) -> None:
        super().__init__()
        self._ended = False
        self._calibrated: Sounding | None = None

    # -- on and off ---------------------------------------------------------------------------------------------

    def action_listen(self) -> None:
        """Choose what to listen through, or stop listening."""
        if self.listener is not None:
            self.stop_listening()
            self.tell("No longer listening. The key decides.")
            return
        ports = list(self.wiring.midi_inputs())
        names = ["", *ports]
        last = self.wiring.memory.get("ear") or ""

        def take(index: int | None) -> None:
            if index is not None:
                self.wiring.memory.put("ear", names[index])
                self.tell("Opening the input.")
                self._open_ear(names[index])

        shown = ["the sound card's input", *(f"MIDI: {port}" for port in ports)]
        now = names.index(last) if last in names else 0
        self.app.push_screen(Choose("What shall I listen to?", shown, now), take)

    @work(thread=True, exclusive=True, group="ear")
    def _open_ear(self, name: str) -> None:
        from trainer.playback.port_names import PortError

        ear, known = None, None
        sounding = self.practising.player.sounding if self.practising is not None else None
        try:
            ear = self.wiring.open_ear(name)
            known = self.wiring.known_late(ear, sounding) if sounding is not None else None
            self._calibrated = sounding
            self.post_message(self.EarOpened(ear, "", not name, known))
        except ProblemsError as error:
            if ear is not None:
                ear.close()
            self.post_message(self.EarOpened(None, str(error.problems[0]), not name))
        except (PortError, OSError) as error:
            self.post_message(self.EarOpened(None, str(error), not name))

    def on_listens_ear_opened(self, message: EarOpened) -> None:
        """Show its level first; then listen, if the player says so."""
        ear = message.ear
        if ear is None:
            self.tell(f"{message.problem} I cannot listen; the key decides.")
            return
        if self._ended or self.listener is not None:
            ear.close()
            return
        self.tell("")
        advice = "" if not message.card or self.wiring.memory.get("headphones") else HEADPHONES

        def begin(yes: bool | None) -> None:
            if not yes or self._ended:
                ear.close()
                return
            if advice:
                self.wiring.memory.put("headphones", True)
            self._known = message.known
            self._listen(ear)

        self.app.push_screen(Meter(ear, self.wiring.pen, advice), begin)

    def _listen(self, ear: "Ear") -> None:
        self.heard = None
        self.listener = Listener(
            ear, self.wiring.bands(), self.wiring.takes(),
            clock=self.wiring.clock, now=self.wiring.now, heard=self._take_verdict, tell=self.tell,
            gone=lambda sentence: self.post_message(self.EarGone(sentence)),
            underway=self._underway, judging=judges_apart,
            overhears=LoopHeard(self.wiring.plays_again, self.wiring.load_rig),
        )  # fmt: skip
        self.follow_listening()
        self.show_music()

    def stop_listening(self) -> None:
        """Close the input, what was heard of the pass that is played judged and kept; the key decides from now on."""
        listener, self.listener = self.listener, None
        self.heard = None
        if listener is not None:
            listener.close(wait=False)
        self.follow_listening()
        if self.practising is not None:
            self.show_music()

    def on_listens_ear_gone(self, message: EarGone) -> None:
        """Go on without it: the key decides."""
        heard = self.heard
        self.stop_listening()
        kept = _unfinished(heard) if heard is not None and heard.asked.bars is not None else ""
        self.tell(f"{message.sentence} Nothing is heard until then; the key decides. {kept}".rstrip())

    def end_listening(self) -> None:
        """Close the input for good."""
        self._ended = True
        listener, self.listener = self.listener, None
        if listener is not None:
            listener.close()

    def follow_listening(self) -> None:
        """Let practising know who decides, and where passes go."""
        if self.practising is not None:
            self.practising.decides = self.decides if self.listener is not None else Decides.KEY
            self.practising.passed = self._pass_over

    def action_next_decides(self) -> None:
        """The key, the take, or both."""
        order = tuple(Decides)
        chosen = order[(order.index(self.decides) + 1) % len(order)]
        self.wiring.memory.put("decides", str(chosen))
        self.follow_listening()
        later = "" if self.listener is not None else " That is so once I listen (L)."
        self.tell(WHO[chosen] + later)
        self.show_heard()

    # -- passes -------------------------------------------------------------------------------------------------

    def _pass_over(self, played: Pass, report: PassReport, ago_seconds: float) -> None:
        """A pass is over; in the player's thread."""
        listener, practising = self.listener, self.practising
        if listener is None or practising is None:
            return
        standing, sounding = practising.standing, practising.player.sounding
        begins = began(sounding, report.start, self.wiring.clock() - ago_seconds)
        known = while_it_sounded(self._known_of(sounding), sounding, report.start, report.end)
        beside = self._beside(practising, report.start)
        listener.ask(asked(played, report, standing.stood.piece, begins, known, beside, standing.clicked))

    @staticmethod
    def _beside(practising: "Practising", start: Fraction) -> Beside | None:
        """What sounds besides my part; None where it does not sound on the stand's own synth."""
        from trainer.playback.synth_sink import SynthSink

        standing = practising.standing
        if not isinstance(practising.player.sounding.sink, SynthSink):
            return None
        mix = standing.mix.without(standing.mine)
        return Beside(mix, practising.click_pattern, standing.silent_bars, start)

    def _known_of(self, sounding: "Sounding") -> Known | None:
        """What calibration knows, while it still sounds where it did when the input was opened."""
        return self._known if sounding is self._calibrated else None

    def _underway(self) -> Underway | None:
        """The pass that is being played; in the listener's thread. Bars that are being built are not followed."""
        practising = self.practising
        if practising is None:
            return None
        standing, position = practising.standing, practising.player.position()
        if position is None or position.state is not State.PLAYING or standing.choices.way in BUILDS:
            return None
        music = Music(standing.stood.piece, standing.loop, standing.mine, position.share, standing.clicked)
        sounding, start = practising.player.sounding, position.began
        seconds = music.seconds_to(position.bar, position.offset)
        begins = self.wiring.clock() + sounding.latency_seconds - seconds
        steady = False
        if start is not None:
            with suppress(SinkGoneError):  # by the sink's clock, on which nothing slips
                steady = abs(float(sounding.sink.now() - start) / sounding.sink.rate - seconds) < SLIPS_S
        if steady and start is not None:
            begins = began(sounding, start, begins)
        return Underway(music, start, begins, steady, self._known_of(sounding))

    def _take_verdict(self, heard: Heard) -> None:
        """A take was judged; in the listener's thread."""
        practising = self.practising
        if practising is not None and heard.asked.played is not None:
            practising.take_verdict(heard.asked.played.uuid, heard.judgement.verdict)
        self.post_message(self.PassHeard(heard))

    def on_listens_pass_heard(self, message: PassHeard) -> None:
        """Show the marks and the sentences; of a pass in which listening was switched off, a sentence."""
        if self.listener is not None:
            self.heard = message.heard
            self.show_heard()
        elif message.heard.asked.bars is not None:
            self.tell(_unfinished(message.heard))
