"""What the stand shows of what it hears: the input and its level, marks under my part, sentences, all in a window."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from textual.screen import Screen

from trainer.music.problem import ProblemsError
from trainer.screens.asking import Choose, Notice
from trainer.screens.drawing.heard_rows import HeardStrip, habit_of, marks_of, off_strokes, sentences
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.verdict_rows import below_of, head_of, two_lines
from trainer.screens.meter import LevelMeter
from trainer.screens.widgets.rows import DrawnPanel
from trainer.screens.widgets.tab_view import TabView
from trainer.session.live_listening import OpenInput, open_input
from trainer.session.machine import Machine
from trainer.session.memory import HEADPHONES_READ, INPUT
from trainer.session.proposal import Proposal, proposal_of, word_is_wanted
from trainer.session.session import PracticeSession
from trainer.session.transitions import WHO

if TYPE_CHECKING:
    from trainer.session.heard_pass import JudgedPass

HEADPHONES = (
    "Use headphones: through loudspeakers the microphone hears the other parts too, and they would be judged with you. "
    "Keep them so low that you could still talk over them."
)
OPENING_INPUT = "Opening the input."
CALIBRATED = " Early and late are known to within {:.1f} ms."


class StandInput:
    """Opens what the player is heard through, and shows what was heard."""

    def __init__(
        self,
        screen: Screen[None],
        machine: Machine,
        pen: Pen,
        session: Callable[[], PracticeSession | None],
        *,
        tell: Callable[[str], None],
        unsay: Callable[[str], None],
        changed: Callable[[], None],
    ) -> None:
        """Begin without an input.

        Args:
            screen: the stand's.
            machine: inputs, memory, bands.
            pen: the characters.
            session: gives the session that listens.
            tell: says a sentence to the player.
            unsay: takes a sentence back that is no longer true.
            changed: told that the music is to be shown anew, with the line for marks or without it.
        """
        self._screen, self._machine, self._pen, self._session = screen, machine, pen, session
        self._tell, self._unsay, self._changed = tell, unsay, changed
        self._ended = False
        self.on = False
        """Whether the stand listens."""
        self.heard: JudgedPass | None = None
        """The last pass that was judged by its recording."""

    # -- on and off ---------------------------------------------------------------------------------------------

    def choose_input(self) -> None:
        """Choose what to listen through, or stop listening."""
        if self.on:
            self._stop()
            self._tell("No longer listening. You judge.")
            return
        memory, ports = self._machine.memory, list(self._machine.inputs.names())
        names = ["", *ports]
        last = memory.get(INPUT)

        def take(index: int | None) -> None:
            session = self._session()
            if index is not None and session is not None:
                memory.put(INPUT, names[index])
                self._tell(OPENING_INPUT)
                opening = partial(self._open, names[index], session)
                self._screen.run_worker(opening, thread=True, exclusive=True, group="input")

        shown = ["the sound card's input", *(f"MIDI: {port}" for port in ports)]
        now = names.index(last) if last in names else 0
        self._screen.app.push_screen(Choose("Which input is your guitar at?", shown, now), take)

    def _open(self, name: str, session: PracticeSession) -> None:
        """Open an input; in a thread, as a device may take its time."""
        from trainer.playback.port_names import PortError

        try:
            opened = open_input(self._machine, name, session.sounding)
        except ProblemsError as error:
            self._screen.call_later(self._not_opened, str(error.problems[0]))
        except (PortError, OSError) as error:
            self._screen.call_later(self._not_opened, str(error))
        else:
            if not self._screen.call_later(self._opened, opened, not name):
                opened.input.close()

    def _not_opened(self, problem: str) -> None:
        self._unsay(OPENING_INPUT)
        self._tell(f"{problem} There is no listening; you judge.")

    def _opened(self, opened: OpenInput, card: bool) -> None:
        """Show its level first; then listen, if the player says so."""
        self._unsay(OPENING_INPUT)
        if self._ended or self.on:
            opened.input.close()
            return
        advice = "" if not card or self._machine.memory.get(HEADPHONES_READ) else HEADPHONES

        def begin(yes: bool | None) -> None:
            session = self._session()
            if not yes or self._ended or session is None:
                opened.input.close()
                return
            if advice:
                self._machine.memory.put(HEADPHONES_READ, True)
            self.heard, self.on = None, True
            session.listen(opened)
            self._changed()

        self._screen.app.push_screen(LevelMeter(opened.input, self._pen, advice), begin)

    def _stop(self) -> None:
        session = self._session()
        self.on, self.heard = False, None
        if session is not None:
            session.stop_listening()
        self._changed()

    def gone(self, sentence: str) -> None:
        """Go on without the input, which went away: the key decides."""
        heard = self.heard
        self.on, self.heard = False, None
        self._changed()
        kept = _unfinished(heard) if heard is not None and heard.of.bars is not None else ""
        self._tell(f"{sentence} Nothing is heard until then; you judge. {kept}".rstrip())

    def end(self) -> None:
        """Open nothing any more."""
        self._ended = True
        self.on = False

    # -- what was heard -----------------------------------------------------------------------------------------

    def pass_heard(self, heard: "JudgedPass") -> None:
        """Show the marks and the sentences; of a pass in which listening was switched off, a sentence."""
        if self.on:
            self.heard = heard
            self.show()
        elif heard.of.bars is not None:
            self._tell(_unfinished(heard))

    def strip(self) -> HeardStrip | None:
        """The marks of the last pass that was heard, while its music stands there."""
        heard, session = self.heard, self._session()
        if heard is None or session is None:
            return None
        loaded = session.state.loaded
        if loaded.piece is not heard.of.passage.piece:
            return None
        letter = loaded.letters[heard.of.passage.part]
        performance = heard.judgement.performance
        if performance is None or not heard.judgement.verdict.counts:
            return HeardStrip(letter, followed=False)
        habit = habit_of(heard.judgement)
        return HeardStrip(letter, marks_of(performance.judged, heard.of.at, self._machine.bands, habit))

    def proposal(self) -> Proposal | None:
        """What the last pass that was heard proposes to do; None for nothing, and once it is done."""
        session = self._session()
        if self.heard is None or session is None or not self.on:
            return None
        return proposal_of(self.heard, session.state, self._machine.rig.click_pattern_names)

    def lines(self) -> tuple[tuple[str, ...], str]:
        """How the last pass was and what to do next; before there is one, that the stand listens and who decides."""
        session = self._session()
        if self.heard is None or session is None:
            return self.told()[:1], " ".join(self.told()[1:])
        proposal = self.proposal()
        key = "A" if word_is_wanted(session.state, running=session.running) else "enter"
        return head_of(self.heard, self._pen), below_of(self.heard, proposal.words if proposal else "", key)

    def told(self) -> tuple[str, ...]:
        """Everything there is to say of the last pass, or that the stand listens."""
        if self.heard is not None:
            first = self.heard.of.said_first
            return (*((first,) if first else ()), *sentences(self.heard.judgement))
        session = self._session()
        listening = session.listening if session is not None else None
        if session is None or listening is None or listening.input is None:
            return ()
        sure = "" if listening.latency is None else CALIBRATED.format(listening.latency.within_ms)
        return (f"Listening to {listening.input.name}: play a pass.{sure}", WHO[session.state.decides])

    def show(self) -> None:
        """Show the marks and the sentences as they are now."""
        self._screen.query_one(TabView).set_strip(self.strip())
        if self.on:
            (head, below), follows, rest = self.lines(), self.proposal() is not None, self.heard is not None
            pen = self._pen
            self._screen.query_one("#heard", DrawnPanel).set_source(
                lambda width, height: two_lines(head, below, pen, width, height, follows=follows, rest=rest)
            )

    def show_all(self) -> None:
        """Show everything that was heard, in a window."""
        if not self.on:
            self._tell("Nothing is listened to. L turns listening on.")
            return
        texts = [("", "\n".join(self.told()))]
        performance = self.heard.judgement.performance if self.heard is not None else None
        if performance is not None and self.heard is not None and self.heard.judgement.verdict.counts:
            lines = off_strokes(performance.judged, self._machine.bands, habit_of(self.heard.judgement))
            texts.append(("Stroke by stroke", "\n".join(lines) or "Nothing that anyone would notice."))
        self._screen.app.push_screen(Notice("What was heard", texts, "enter: close"))


def _unfinished(heard: "JudgedPass") -> str:
    """What is told of a pass that was broken off when nothing more is listened to."""
    return f"{heard.of.said_first} {sentences(heard.judgement)[0]}"
