"""The state of a stand and the transport that sounds it: what is played, what the transport asks, where the sound is.

The state is one frozen value (`Standing`). The player's thread changes it under a lock; the transport's thread reads
it when the look-ahead reaches the next pass. Locks are taken in one order: this one, the player's, the transport's;
what the transport asks from within itself (`_next_share`) takes none.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from fractions import Fraction

from trainer.music.problem import ProblemsError
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.share import PassReport
from trainer.playback.sink import SinkGoneError
from trainer.playback.timeline import Timeline
from trainer.practice.building import Building
from trainer.practice.sittings import Place, use_port
from trainer.practice.verdict import Outcome
from trainer.screens.built_riff import built_riff
from trainer.screens.choices import Way, share_of
from trainer.screens.ladders import as_left
from trainer.screens.player import Player
from trainer.screens.playhead import Playhead, playhead
from trainer.screens.standing import BUILDS, Standing
from trainer.screens.stood import Stood
from trainer.screens.wiring import Sounding, Wiring
from trainer.sounds.click_pattern import ClickPattern


class Sounded:
    """One riff or form on the stand, and how it sounds."""

    def __init__(
        self,
        wiring: Wiring,
        stood: Stood,
        sounding: Sounding,
        *,
        changed: Callable[[], None],
        tell: Callable[[str], None],
    ) -> None:
        """Put it on the stand, with everything as it was left.

        Args:
            wiring: log, memory, clocks, sounds.
            stood: what is practised.
            sounding: where it sounds.
            changed: told, in any thread, that there is something new to show.
            tell: hears sentences for the player, in any thread.

        Raises:
            ProblemsError: a patch that the parts ask for is missing.
        """
        self.wiring, self._changed, self.tell = wiring, changed, tell
        self._lock = threading.RLock()
        self._offset = Fraction(0)
        self._built: Building | None = None
        self._standing = as_left(stood, wiring)
        self.player = Player(sounding, on_end=self._ended, on_gone=self._gone)
        self._remember_port()
        self._load()

    @property
    def standing(self) -> Standing:
        """The state now."""
        return self._standing

    @property
    def running(self) -> bool:
        """Whether it plays or counts in."""
        return self.player.running

    @property
    def click_pattern(self) -> ClickPattern | None:
        """The click's pattern; None for no click."""
        name = self._standing.choices.click
        try:
            return self.wiring.rig.click_pattern(name) if name else None
        except ProblemsError:
            return None

    def playhead(self) -> Playhead:
        """Where the sound is that is heard now."""
        standing, sounding = self._standing, self.player.sounding
        if self._built is not None:  # what is built may have grown already while its last stroke sounds
            standing = replace(standing, progress=replace(standing.progress, building=self._built))
        return playhead(standing, self.player.position(), self._offset, sounding.latency_seconds)

    def use(self, sounding: Sounding) -> None:
        """Sound somewhere else from now on."""
        with self._changing():
            self.player.use(sounding)
            self._remember_port()
        self._changed()

    def close(self) -> None:
        """End the playing, all notes off, and keep where the player was."""
        with self._changing():
            self._keep()
        self.player.close()

    # -- from the transport's thread ----------------------------------------------------------------------------

    def _next_share(self, report: PassReport) -> Fraction | None:
        """The share of the pass after one; the word on that may have come before it counted, or after."""
        standing = after = self._standing
        if standing.counted != report.start:
            after = standing.after(self._word(standing), float(report.share * standing.stood.target_bpm))
        if after.apart:
            return None
        self.player.prepare_next(after.loop, after.mix)
        return after.share

    def _word(self, standing: Standing) -> Outcome:
        """How the pass that is played counts as far as is known."""
        return standing.pending or Outcome.UNJUDGED

    def _passed(self, report: PassReport) -> None:
        """A pass counts; the subclass judges and logs it."""

    def _ended(self) -> None:
        """All passes of the transport are over: the next one is counted in."""
        with self._lock:
            standing = self._standing
            burst = standing.progress.burst
            over = standing.choices.way is Way.BURST and burst is not None and burst.done
            if over and burst is not None:
                self.player.stop()
                self.tell("Clean bursts enough." if burst.won else "Bursts enough for now: rest the hand.")
            else:
                self._load()
                self.player.play()
        self._changed()

    def _gone(self, sentence: str) -> None:
        self.tell(f"{sentence} The stand goes on in silence.")
        self._changed()

    # -- inside -------------------------------------------------------------------------------------------------

    @contextmanager
    def _changing(self) -> Iterator[None]:
        """The state is the caller's alone, and passes that count by now have been counted before it changes."""
        with self._lock:
            self.player.tell()
            yield

    def _seconds_since(self, frame: Fraction) -> float:
        """How long ago a frame was heard; less than 0 for one that is to come."""
        sounding = self.player.sounding
        with suppress(SinkGoneError):
            return float(sounding.sink.now() - frame) / sounding.sink.rate - sounding.latency_seconds
        return 0.0

    def _follow_loop(self, before: Standing) -> None:
        """Let the transport play the loop of the state now."""
        after = self._standing
        if after.choices.way in BUILDS or before.choices.way in BUILDS:
            running = self.running
            self._load()
            if running:
                self.player.play()
        elif after.loop != before.loop:
            self.player.change(lambda transport: transport.set_loop(after.loop))

    def _play(self) -> None:
        """Begin to play, or go on: as the state has it now, which may have moved on since it was stopped."""
        standing = self._standing
        if standing.choices.way not in BUILDS:
            self.player.change(lambda transport: transport.set_loop(standing.loop))
        elif self._built != standing.progress.building:
            self._load()
        self.player.change(lambda transport: transport.set_mix(standing.mix))
        self.player.change(lambda transport: transport.set_share(standing.share))
        self.player.change(lambda transport: transport.set_count_in(standing.count_in))
        self.player.play()

    def _load(self) -> None:
        """A transport for what is played now."""
        standing = self._standing
        timeline, loop = self._timeline()
        plan = Plan(
            loop=loop,
            share=share_of(standing.tempo_bpm, standing.stood.target_bpm),
            passes=None,
            count_in=standing.count_in,
            click=self.click_pattern,
            silent_bars=standing.silent_bars,
            mix=standing.mix,
        )
        self.player.load(timeline, plan, self._next_share, self._passed)

    def _timeline(self) -> tuple[Timeline, Loop]:
        """What is played now, and its loop: the piece, or the built bars with the note over the join."""
        standing = self._standing
        piece, loop = standing.stood.piece, standing.loop
        self._offset, self._built = Fraction(0), None
        building = standing.progress.building
        if standing.choices.way in BUILDS and building is not None and len(piece.riffs) == 1:
            built = built_riff(piece.riffs[0].riff, building.loop)
            self._offset, self._built = built.offset, building
            piece = Piece.of(standing.stood.exercise, (built.riff,))
            loop = piece.whole
        return Timeline.of(piece, self.wiring.rig), loop

    def _place(self) -> Place:
        standing = self._standing
        heard = tuple(name for name in standing.stood.heard if name not in standing.choices.unheard)
        return Place(
            standing.stood.line(standing.mine),
            standing.choices.first + 1,
            standing.choices.last + 1,
            standing.tempo_bpm,
            self.player.sounding.port,
            str(standing.choices.way),
            heard if standing.choices.unheard else (),
        )

    def _keep(self) -> None:
        standing = self._standing
        bpm = standing.tempo_bpm if standing.choices.way is Way.LADDER else standing.choices.bpm
        kept = replace(standing.choices, bpm=bpm)
        self.wiring.memory.keep(standing.stood.exercise.id, standing.stood.riff, kept)

    def _remember_port(self) -> None:
        if self.player.sounding.port:
            self.wiring.log.change(use_port, self.wiring.log.sitting, self.player.sounding.port)
