"""What `listen` prints of a session: each verdict as it comes, and the sentences around it."""

import queue
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from trainer.commands.telling import plain, tell
from trainer.commands.terminal import complain, say, say_json_line
from trainer.practice.verdict import Outcome
from trainer.session.duplex_card import DuplexInput
from trainer.session.events import InputGone, PassHeard, SessionEvent, Told

if TYPE_CHECKING:
    from trainer.commands.subject import Subject
    from trainer.session.heard_pass import JudgedPass, PassToJudge
    from trainer.session.inputs import Input
    from trainer.session.state import SessionState

BOTH_INPUTS = "Listening to both inputs of the sound card as one."
COMPLETE_S = 2.0
"""So long a verdict is held back before it is printed as JSON: a warning about its pass may be found after it."""


class PassPrinter:
    """Prints the events of a session, and counts its passes. A pass may be told again, with a warning more."""

    def __init__(self, subject: "Subject", source: "Input", clock: Callable[[], float], *, as_json: bool) -> None:
        """Begin.

        Args:
            subject: what is played.
            source: through what it is heard.
            clock: the session's.
            as_json: whether verdicts are printed as JSON, one a line.
        """
        self._subject, self._source, self._clock, self.as_json = subject, source, clock, as_json
        self.heard = self.judged = self.clean = 0
        """Whole passes whose verdict came; those of them that were judged; and those that were clean."""
        self.gone = ""
        """Why nothing more is heard, as a sentence; empty while all is well."""
        self._last: PassToJudge | None = None
        self._dropped, self._number = 0, 1
        self._about: dict[str, Any] = {}
        self._held: JudgedPass | None = None
        self._told: list[str] = []
        self._since = 0.0

    def announce(self, state: "SessionState") -> None:
        """Say what is about to be played."""
        if not self.as_json:
            said = self._subject.said(state.mine, float(state.tempo_bpm))
            say(f"{self._subject.exercise.title}: {said}. Ctrl-C ends it.")

    def wait(self, events: "queue.SimpleQueue[SessionEvent]", seconds: float) -> None:
        """Print the next event, if one comes within so many seconds."""
        try:
            self._print(events.get(timeout=seconds))
        except queue.Empty:
            if self._held is None or time.monotonic() > self._since + COMPLETE_S:
                self._print_held()

    def finish(self, events: "queue.SimpleQueue[SessionEvent]") -> None:
        """Print everything that is left."""
        while not events.empty():
            self._print(events.get())
        self._print_held()

    def _print(self, event: SessionEvent) -> None:
        match event:
            case PassHeard(heard):
                self._print_verdict(heard)
            case Told(sentence):
                if self.as_json:
                    self._told.append(sentence)
                else:
                    say(f"  {sentence}")
            case InputGone(sentence):
                self.gone = sentence

    def _print_verdict(self, heard: "JudgedPass") -> None:
        again, self._last = heard.of is self._last, heard.of
        if not again:
            self._print_held()
            self._count(heard)
        if self.as_json:
            self._held, self._since = heard, time.monotonic()
        elif not again:
            self._say(heard)

    def _count(self, heard: "JudgedPass") -> None:
        of, verdict, unfinished = heard.of, heard.judgement.verdict, heard.of.bars is not None
        self.heard += not unfinished
        if verdict.counts and not unfinished:
            self.judged += 1
            self.clean += verdict.outcome is Outcome.CLEAN
        lost, self._dropped = self._source.dropped - self._dropped, self._source.dropped
        self._about = {
            "pass": self.heard + unfinished, "part": of.passage.part, "tempo_bpm": float(of.passage.tempo_bpm),
            "after_s": round(self._clock() - of.begins - of.seconds, 3), "overruns": lost,
        }  # fmt: skip

    def _say(self, heard: "JudgedPass") -> None:
        source, of = self._source, heard.of
        if isinstance(source, DuplexInput) and source.number != self._number:
            self._number = source.number
            say(f"Listening to input {source.number} of the sound card." if source.number else BOTH_INPUTS)
        title = f"Pass {self._about['pass']}, {self._subject.said(of.passage.part, self._about['tempo_bpm'])}"
        tell(heard.judgement, f"{title} (cut short)" if of.bars is not None else title)
        if of.said_first:
            say(f"  {of.said_first}")

    def _print_held(self) -> None:
        """Print the verdict that was held back, as JSON; beside it the sentences that do not stand in it."""
        held, self._held = self._held, None
        told, self._told = self._told, []
        for sentence in told:
            if held is None or sentence not in held.judgement.warnings:
                complain(f"  {sentence}")
        if held is not None:
            say_json_line(plain(held.judgement, **self._about))
