"""Listening to the player while a session plays: which pass sounds, when it began, and what else sounds with it.

The engine is `listening.Listening`; here is what it is told of the session. Passes come in from the player's thread;
the engine asks for the pass in progress from its own, and tells there what it found.
"""

import threading
from collections.abc import Callable
from contextlib import suppress
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from trainer.playback.position import State
from trainer.playback.share import PassReport
from trainer.playback.sink import SinkGoneError
from trainer.practice.passes import Pass
from trainer.session.heard_pass import JudgedPass, Passage, PassInProgress, pass_to_judge
from trainer.session.latency import CalibratedLatency, DeviceClock, allowing_for_dropouts, heard_at
from trainer.session.listening import Listening
from trainer.session.loop_check import LoopCheck, OtherSound
from trainer.session.machine import Machine, Sounding
from trainer.session.player import Player
from trainer.session.state import BUILDS, SessionState

if TYPE_CHECKING:
    from trainer.listening.live_judge import LiveJudge
    from trainer.session.inputs import Input
    from trainer.sounds.click_pattern import ClickPattern

SLIPS_S = 0.1
"""Between two looks at one clock."""


class OpenInput(NamedTuple):
    """An input that was opened, and what calibration knows of it."""

    input: "Input"
    latency: CalibratedLatency | None = None
    """None where nothing was measured."""
    sounding: Sounding | None = None
    """Where the session sounded when it was opened: the latency is that of this sound and this input."""


def open_input(machine: Machine, name: str, sounding: Sounding) -> OpenInput:
    """Open an input, and look up its latency. May take a while, for any thread.

    Args:
        machine: opens it.
        name: a MIDI input's; empty for the sound card's input.
        sounding: where the session sounds.

    Raises:
        ProblemsError, PortError, OSError: it cannot be used, with a plain sentence.
    """
    opened = machine.inputs.open(name)
    try:
        return OpenInput(opened, machine.inputs.latency_of(opened, sounding), sounding)
    except BaseException:
        opened.close()
        raise


def judges_apart() -> "LiveJudge":
    """What judges takes: a process of its own; this one where none can be started."""
    from trainer.listening.live_judge import LocalJudge
    from trainer.listening.worker_judge import WorkerJudge

    try:
        return WorkerJudge()
    except OSError:
        return LocalJudge()


class LiveListening:
    """Listens to the player for as long as an input is open, one input after another."""

    def __init__(
        self,
        machine: Machine,
        player: Player,
        state: "Callable[[], SessionState]",
        click: "Callable[[], ClickPattern | None]",
        *,
        heard: Callable[[JudgedPass], None],
        tell: Callable[[str], None],
        gone: Callable[[str], None],
    ) -> None:
        """Begin without an input.

        Args:
            machine: bands, takes, clocks, patches.
            player: what sounds.
            state: gives the session's state.
            click: gives the click pattern that is chosen.
            heard: gets each judged pass, in the engine's thread.
            tell: hears sentences for the player, in the engine's thread.
            gone: told, in a sentence and in the engine's thread, that nothing more is heard.
        """
        self._machine, self._player, self._state, self._click = machine, player, state, click
        self._heard, self._tell, self._gone = heard, tell, gone
        self._lock = threading.Lock()
        self._engine: Listening | None = None
        self._opened: OpenInput | None = None

    @property
    def engine(self) -> Listening | None:
        """What listens; None while nobody does."""
        return self._engine

    @property
    def input(self) -> "Input | None":
        """The open input; None while nobody listens."""
        opened = self._opened
        return opened.input if opened is not None else None

    @property
    def latency(self) -> CalibratedLatency | None:
        """What calibration knows of the open input."""
        opened = self._opened
        return opened.latency if opened is not None else None

    def begin(self, opened: OpenInput) -> None:
        """Listen to an input; it is closed when this ends."""
        self.end()
        machine = self._machine
        with self._lock:  # the input may be gone at once: whoever is told that waits until this is done
            self._opened = opened
            self._engine = Listening(
                opened.input, machine.bands, machine.takes(),
                clock=machine.clock, now=machine.now, judged=self._heard, tell=self._tell,
                gone=lambda sentence: self._lost(opened, sentence),
                in_progress=self.in_progress, judging=judges_apart,
                loop_check=LoopCheck(machine.outputs.render_again, machine.load_rig),
            )  # fmt: skip

    def end(self, *, wait: bool = False) -> None:
        """Close the input; what was heard of the pass that is played is judged and kept first.

        Args:
            wait: until that is done. Nobody may hold a lock that the engine's thread takes.
        """
        with self._lock:
            engine, self._engine, self._opened = self._engine, None, None
        if engine is not None:
            engine.close(wait=wait)

    def pass_over(self, state: SessionState, played: Pass, report: PassReport, ago_seconds: float) -> None:
        """Let a pass be judged that has counted.

        Args:
            state: with which it was played.
            played: as it was logged.
            report: how it was timed.
            ago_seconds: how long ago it began to sound.
        """
        engine = self._engine
        if engine is None:
            return
        sounding = self._player.sounding
        begins = heard_at(sounding, report.start, self._machine.clock() - ago_seconds)
        known = allowing_for_dropouts(self._known_of(sounding), sounding, report.start, report.end)
        others = self._others(state, sounding, report.start)
        loaded = state.loaded
        item = pass_to_judge(
            played, report, loaded.piece, begins, known, others, state.clicked, loaded.file, state.passes + 1
        )
        engine.ask(item)

    def in_progress(self) -> PassInProgress | None:
        """The pass that is being played; in the engine's thread. Bars that are being built are not followed."""
        state, position = self._state(), self._player.position()
        if position is None or position.state is not State.PLAYING or state.choices.method in BUILDS:
            return None
        loaded = state.loaded
        passage = Passage(loaded.piece, state.loop, state.mine, position.share, state.clicked, file=loaded.file)
        sounding, start = self._player.sounding, position.began
        seconds = passage.seconds_to(position.bar, position.offset)
        begins = self._machine.clock() + sounding.latency_seconds - seconds
        steady = False
        if start is not None:
            with suppress(SinkGoneError):  # by the sink's clock, on which nothing slips
                steady = abs(float(sounding.sink.now() - start) / sounding.sink.rate - seconds) < SLIPS_S
        if steady and start is not None:
            begins = heard_at(sounding, start, begins)
        return PassInProgress(passage, start, begins, steady, self._known_of(sounding))

    # -- inside -------------------------------------------------------------------------------------------------

    def _lost(self, opened: OpenInput, sentence: str) -> None:
        with self._lock:
            if self._opened is not opened:
                return
            self._engine = self._opened = None
        self._gone(sentence)

    def _others(self, state: SessionState, sounding: Sounding, start: Fraction) -> OtherSound | None:
        """What sounds besides my part; None where it does not sound on a synth of ours."""
        if not isinstance(sounding.sink, DeviceClock):
            return None
        return OtherSound(state.mix.without(state.mine), self._click(), state.silent_bars, start)

    def _known_of(self, sounding: Sounding) -> CalibratedLatency | None:
        """What calibration knows, while it still sounds where it did when the input was opened."""
        opened = self._opened
        return opened.latency if opened is not None and opened.sounding is sounding else None
