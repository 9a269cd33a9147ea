"""What sounds while a session is open: a transport that a thread keeps going, and that may be exchanged for another."""

import gc
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields, replace
from fractions import Fraction

from trainer.playback.mix import Mix
from trainer.playback.piece import Loop
from trainer.playback.plan import Plan
from trainer.playback.position import Position, State
from trainer.playback.share import PassReport
from trainer.playback.sink import SinkGoneError
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.session.machine import Sounding
from trainer.session.silent_sink import SilentSink

PAUSE_SECONDS = 0.02
"""Between two calls of the transport's `advance`; its look-ahead is many times longer."""

NextShare = Callable[[PassReport], Fraction | None]


class Player:
    """Plays timelines into a sink. Callbacks come in its own thread."""

    def __init__(
        self,
        sounding: Sounding,
        *,
        on_end: Callable[[], None],
        on_gone: Callable[[str], None],
        pause_seconds: float = PAUSE_SECONDS,
    ) -> None:
        """Start the thread.

        Args:
            sounding: where to play.
            on_end: told each time the passes have come to their end (not when they were stopped).
            on_gone: told, in a sentence, that the sink is gone; from then on it is silent.
            pause_seconds: between two calls of `advance`.
        """
        self._sounding = sounding
        self._on_end, self._on_gone = on_end, on_gone
        self._pause = pause_seconds
        self._lock = threading.RLock()
        self._transport: Transport | None = None
        self._loading: tuple[Timeline, NextShare, Callable[[PassReport], None]] | None = None
        self._wanted = False
        self._stepping = threading.RLock()
        self._stepped: Transport | None = None
        self._was_running = False
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="stand", daemon=True)
        self._thread.start()

    @property
    def sounding(self) -> Sounding:
        """Where it plays now."""
        return self._sounding

    @property
    def running(self) -> bool:
        """Whether something is played or counted in."""
        return self._transport is not None and self._transport.running

    @property
    def rate(self) -> int:
        """Frames a second of the sink."""
        return self._sounding.sink.rate

    def load(
        self, timeline: Timeline, plan: Plan, next_share: NextShare, on_pass: Callable[[PassReport], None]
    ) -> None:
        """Put another timeline on; what played before is ended."""
        with self._lock:
            self.stop()
            self.tell()
            self._loading = timeline, next_share, on_pass
            self._make(plan)

    def exchange(self, timeline: Timeline) -> None:
        """Play other notes in the same bars from now on: at the same place, without a stop."""
        with self._lock:
            if self._loading is None:
                return
            self._loading = timeline, *self._loading[1:]
            transport = self._transport
            if transport is None:
                return
            if transport.timeline.exchangeable(timeline):
                self.change(lambda transport: transport.set_timeline(timeline))
            else:
                self._change_over(transport)

    def _change_over(self, before: Transport) -> None:
        """Go on where a transport is in the timeline that was put on, which has other parts or channels."""
        try:
            state, running = before.position().state, before.running
        except SinkGoneError as gone:
            self._go_silent(gone)
            return
        wanted, plan = self._wanted, before.plan
        self.stop()
        self.tell()
        place = before.position()
        self._make(replace(plan, count_in=plan.count_in if state is State.COUNTING_IN else 0))
        self.change(lambda transport: transport.seek(place.bar, place.offset))
        if running and wanted:
            self.play()
        self.change(lambda transport: transport.change(replace(transport.plan, count_in=plan.count_in)))

    def use(self, sounding: Sounding) -> None:
        """Play into another sink from now on; the old one is closed."""
        with self._lock:
            self.stop()
            plan = None if self._transport is None else self._transport.plan
            old, self._sounding = self._sounding, sounding
            old.sink.close()
            if plan is not None:
                self._make(plan)

    def play(self) -> None:
        """Begin, or go on where it was stopped.

        What is in memory now is taken out of the sight of Python's collector, which else stops everything for up to a
        quarter of a second while music is played (measured: the playhead, tests/benchmarks/stand_playing.py).
        """
        gc.collect(1)
        gc.freeze()
        self._wanted = True
        self.change(lambda transport: transport.play())

    def stop(self) -> None:
        """Stay where the playing is, all notes off."""
        self._wanted = False
        self.change(lambda transport: transport.stop())

    def rewind(self) -> None:
        """Stop, and go back to the loop's start."""
        self._wanted = False
        self.change(lambda transport: transport.rewind())

    def change(self, change: Callable[[Transport], object]) -> None:
        """Do something with the transport; does nothing before one was loaded."""
        with self._lock:
            if self._transport is None:
                return
            try:
                change(self._transport)
            except SinkGoneError as gone:
                self._go_silent(gone)

    def change_plan(self, before: Plan, after: Plan) -> None:
        """Let the transport take over, in one change, what differs between two plans, and nothing else.

        It may be one pass behind a session's state: what is the same in both plans stays as the transport has it.
        """
        names = [field.name for field in fields(Plan)]
        differing = {name: getattr(after, name) for name in names if getattr(before, name) != getattr(after, name)}
        if differing:
            self.change(lambda transport: transport.change(replace(transport.plan, **differing)))

    def tell(self) -> None:
        """Let passes that count by now be told of at once, in this thread."""
        self.change(lambda transport: transport.tell())

    def prepare_next(self, loop: Loop, mix: Mix) -> None:
        """Give the next pass its bars and its mix. For the transport's `next_share` only: it takes no lock."""
        if self._transport is not None:
            self._transport.prepare_next(loop, mix)

    def position(self) -> Position | None:
        """Where the playing is by the sink's clock; None before anything was loaded."""
        transport = self._transport
        if transport is None:
            return None
        try:
            return transport.position()
        except SinkGoneError as gone:
            with self._lock:
                if transport is self._transport:  # else another thread has noticed it, and told why
                    self._go_silent(gone)
            return None

    def close(self) -> None:
        """End everything, all notes off, and release the sink. May be called twice."""
        self._closing.set()
        if threading.current_thread() is not self._thread:
            self._thread.join()
        self._sounding.sink.silence()
        with suppress(SinkGoneError):
            if self._transport is not None:
                self._transport.stop()
        self._sounding.sink.close()

    def _make(self, plan: Plan) -> None:
        if self._loading is None:
            return
        timeline, next_share, on_pass = self._loading
        try:
            self._transport = Transport(timeline, self._sounding.sink, plan, next_share=next_share, on_pass=on_pass)
        except SinkGoneError as gone:
            self._transport = None
            self._go_silent(gone, plan)

    def step(self) -> None:
        """Let the transport hand over what comes next, and tell of what has ended; the thread does it all the time."""
        with self._stepping:
            transport = self._transport
            if transport is not self._stepped:
                self._stepped, self._was_running = transport, False
            if transport is None:
                return
            self._was_running = self._was_running or transport.running
            try:
                running = transport.advance()
            except SinkGoneError as gone:
                with self._lock:
                    if transport is self._transport:
                        self._go_silent(gone)
                return
            ended, self._was_running = self._was_running and not running, running
        if ended and self._wanted:
            self._on_end()

    def _run(self) -> None:
        while not self._closing.wait(self._pause):
            self.step()

    def _go_silent(self, gone: SinkGoneError, plan: Plan | None = None) -> None:
        if plan is None:
            plan = None if self._transport is None else self._transport.plan
        self._wanted = False
        old = self._sounding
        self._sounding = Sounding(SilentSink(), "silence", str(gone))
        old.sink.close()
        if plan is not None:
            self._make(plan)
        self._on_gone(str(gone))
