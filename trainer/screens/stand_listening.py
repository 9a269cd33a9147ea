"""What the stand's keys do about listening: on and off, who decides, and everything that was heard."""

from typing import TYPE_CHECKING

from textual import work
from textual.message import Message

from trainer.music.problem import ProblemsError
from trainer.playback.share import PassReport
from trainer.practice.deciding import Decides
from trainer.practice.passes import Pass
from trainer.screens.asking import Choose, Notice
from trainer.screens.drawing.heard_rows import HeardStrip, marks_of, off_strokes, sentence_rows, sentences
from trainer.screens.listener import Heard, Listener, asked
from trainer.screens.meter import Meter
from trainer.screens.widgets.rows import Rows
from trainer.screens.widgets.tab_view import TabView

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.screens.ears import Ear
    from trainer.screens.practising import Practising
    from trainer.screens.wiring import Wiring

    _Base = Screen[None]
else:
    _Base = object

HEADPHONES = (
    "Use headphones: through loudspeakers the microphone hears the other parts too, and they would be judged with you. "
    "Keep them so low that you could still talk over them."
)
MORE = "(U: all)"
WHO = {
    Decides.KEY: "The key decides; the take is measured.",
    Decides.TAKE: "The take decides.",
    Decides.BOTH: "Both decide: a pass is clean when you and the take say so.",
}
LOW, FEW, MANY = 34, 2, 4
"""Lines of a window under which the sentences have few lines."""


class Listens(_Base):
    """Listening on the stand's screen."""

    wiring: "Wiring"
    practising: "Practising | None"

    if TYPE_CHECKING:

        def show_music(self) -> None: ...  # noqa: D102 - the screen's
        def tell(self, sentence: str) -> None: ...  # noqa: D102 - the screen's

    class EarOpened(Message):
        """An input was opened in the background, or why not."""

        def __init__(self, ear: "Ear | None", problem: str, card: bool) -> None:
            super().__init__()
            self.ear, self.problem, self.card = ear, problem, card

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
        self.listener: Listener | None = None
        self.heard: Heard | None = None
        self._ended = False

    @property
    def decides(self) -> Decides:
        """Who decides while the stand listens, as the player chose it."""
        try:
            return Decides(self.wiring.memory.get("decides") or Decides.KEY)
        except ValueError:
            return Decides.KEY

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

        try:
            self.post_message(self.EarOpened(self.wiring.open_ear(name), "", not name))
        except ProblemsError as error:
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
            self._listen(ear)

        self.app.push_screen(Meter(ear, self.wiring.pen, advice), begin)

    def _listen(self, ear: "Ear") -> None:
        self.heard = None
        self.listener = Listener(
            ear, self.wiring.bands(), self.wiring.takes(),
            clock=self.wiring.clock, now=self.wiring.now, heard=self._take_verdict, tell=self.tell,
            gone=lambda sentence: self.post_message(self.EarGone(sentence)),
        )  # fmt: skip
        self.follow_listening()
        self.show_music()

    def stop_listening(self) -> None:
        """Close the input; the key decides from now on."""
        listener, self.listener = self.listener, None
        self.heard = None
        if listener is not None:
            listener.close()
        self.follow_listening()
        if self.practising is not None:
            self.show_music()

    def on_listens_ear_gone(self, message: EarGone) -> None:
        """Go on without it: the key decides."""
        self.stop_listening()
        self.tell(f"{message.sentence} Nothing is heard until then; the key decides.")

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
        piece = practising.standing.stood.piece
        item = asked(played, report, piece, self.wiring.clock() - ago_seconds)
        if item is not None:
            listener.ask(item)

    def _take_verdict(self, heard: Heard) -> None:
        """A take was judged; in the listener's thread."""
        practising = self.practising
        if practising is not None:
            practising.take_verdict(heard.asked.played.uuid, heard.judgement.verdict)
        self.post_message(self.PassHeard(heard))

    def on_listens_pass_heard(self, message: PassHeard) -> None:
        """Show the marks and the sentences."""
        if self.listener is not None:
            self.heard = message.heard
            self.show_heard()

    # -- showing ------------------------------------------------------------------------------------------------

    def strip(self) -> HeardStrip | None:
        """The marks of the last pass that was heard, while its music stands there."""
        heard, practising, listener = self.heard, self.practising, self.listener
        if heard is None or practising is None or listener is None:
            return None
        stood = practising.standing.stood
        if stood.piece is not heard.asked.piece:
            return None
        letter = stood.letters[heard.asked.played.line.part]
        performance = heard.judgement.performance
        if performance is None or not heard.judgement.verdict.counts:
            return HeardStrip(letter)
        return HeardStrip(letter, marks_of(performance.judged, heard.asked.at, listener.bands))

    def told(self) -> tuple[str, ...]:
        """What there is to say of the last pass, or that the stand listens."""
        if self.heard is not None:
            return sentences(self.heard.judgement)
        name = self.listener.ear.name if self.listener is not None else ""
        return (f"Listening to {name}: play a pass.", WHO[self.decides])

    def heard_lines(self) -> int:
        """Lines for the sentences; 0 while the stand does not listen."""
        if self.listener is None:
            return 0
        return FEW if self.size.height < LOW else MANY

    def show_heard(self) -> None:
        """Show the marks and the sentences as they are now."""
        self.query_one(TabView).set_strip(self.strip())
        lines = self.heard_lines()
        rows = self.query_one("#heard", Rows)
        if lines:
            width = max(1, rows.size.width or self.size.width)
            rows.show(sentence_rows(self.told(), width, lines, MORE))

    def action_show_heard(self) -> None:
        """Everything that was heard, in a window."""
        if self.listener is None:
            self.tell("I do not listen. L turns listening on.")
            return
        texts = [("", " ".join(self.told()))]
        performance = self.heard.judgement.performance if self.heard is not None else None
        if performance is not None and self.heard is not None and self.heard.judgement.verdict.counts:
            lines = off_strokes(performance.judged, self.listener.bands)
            texts.append(("Stroke by stroke", "\n".join(lines) or "Nothing that anyone would notice."))
        self.app.push_screen(Notice("What I heard", texts, "enter: close"))
