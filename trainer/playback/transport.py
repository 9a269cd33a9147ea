"""The transport: plays a timeline into a sink, loops it, and changes anything while it plays.

A change is made at the earliest frame that the sink can still serve (the *cut*): what is due before it stays as it was,
what is due after it is taken back and made anew, and every note that sounds gets its end again. So a change is heard at
once, however far the look-ahead reaches, and position runs on through it without a jump.
"""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.playback.click_track import ClickTrack, SilentBars
from trainer.playback.mix import CLICK, Mix
from trainer.playback.passing import Passing
from trainer.playback.piece import Loop
from trainer.playback.same_tones import exchangeable, same_tones
from trainer.playback.share import share_for_bpm
from trainer.playback.stretch import Stretch
from trainer.playback.timeline import Timeline
from trainer.sounds.click_pattern import ClickPattern


class Transport(Passing):
    """Plays a timeline into a sink, with changes at any time, from any thread. It does not close the sink."""

    def set_share(self, share: Fraction) -> None:
        """Go on at another tempo, from the same place; it stays for the passes that follow unless `next_share` differs.

        Raises ValueError for a share of 0 or less, and SinkGoneError.
        """
        with self._lock:
            self._plan = replace(self._plan, share=share)

            def rescale(stretch: Stretch, cut: int) -> None:
                stretch.steady = stretch.steady and (share == stretch.share or cut <= stretch.began)
                stretch.frames = stretch.frames.rescaled(cut, share)

            self._alter(rescale)

    def set_tempo(self, tempo_bpm: Fraction | int) -> None:
        """Go on at a tempo in bpm, taken as a share of the target of the loop's first riff; else as `set_share`.

        Raises ValueError outside 20 to 400 bpm, and SinkGoneError.
        """
        self.set_share(share_for_bpm(Fraction(tempo_bpm), self._timeline.piece.target_bpm(self._plan.loop.first)))

    def set_loop(self, loop: Loop) -> None:
        """Play other bars from now on: on to their end if the place is among them, else from their start.

        Raises ValueError for bars that the piece has not, and SinkGoneError.
        """
        with self._lock:
            self._plan = replace(self._plan, loop=loop).within(self._timeline.piece)
            bars, curve = self._timeline.piece.bars, self._timeline.curve
            inside = curve.at(bars[loop.first].at), curve.at(bars[loop.last].end)
            if not self.running or self._schedule.stretches[0].counting_in:
                if not inside[0] <= self._stopped_at < inside[1]:
                    self._stopped_at = inside[0]
                if self.running:
                    self._alter(lambda *_: None)
                return

            cut, stretch, taken = self._cut()
            seconds = stretch.frames.seconds_at(max(cut, stretch.first))
            if inside[0] <= seconds < inside[1]:
                self._schedule.reloop(stretch, loop)
                self._schedule.remake(cut, taken)
            else:
                self._restart(cut, stretch, inside[0])
            self._delivery.hand_over()

    def set_mix(self, mix: Mix) -> None:
        """Change who is heard, how loud and from where, at once. Raises SinkGoneError."""
        with self._lock:
            before, self._plan = self._plan.mix, replace(self._plan, mix=mix)
            others_heard = [self._schedule.hear(each, mix) for each in self._schedule.stretches]
            if any(others_heard) or self._follower_made:
                self._alter(lambda *_: None)
            self._put_levels(before, mix, self._delivery.earliest())
            self._delivery.hand_over()

    def set_heard(self, part: str, heard: bool) -> None:
        """Let a part (or "click") be heard or not, at once. Raises SinkGoneError."""
        with self._lock:
            self.set_mix(self._plan.mix.with_(part) if heard else self._plan.mix.without(part))

    def set_level(self, part: str, level_db: float) -> None:
        """Set what is added to a part's (or the click's) level, in dB, at once. Raises SinkGoneError."""
        with self._lock:
            self.set_mix(self._plan.mix.with_level(part, level_db))

    def set_pan(self, part: str, pan: float) -> None:
        """Put a part somewhere between -1 (left) and 1 (right), at once. Raises SinkGoneError."""
        with self._lock:
            self.set_mix(self._plan.mix.with_pan(part, pan))

    def set_click(self, pattern: ClickPattern | None, silent_bars: SilentBars | None = None) -> None:
        """Change the click's pattern (None: no click) and its silent bars, at once. Raises SinkGoneError."""
        with self._lock:
            self._plan = replace(self._plan, click=pattern, silent_bars=silent_bars)
            voice = self._timeline.voice(CLICK)
            self._schedule.clicks = ClickTrack(self._timeline.piece, voice, pattern)
            self._schedule.silent_bars = silent_bars
            self._alter(lambda *_: None)

    def set_timeline(self, timeline: Timeline) -> None:
        """Play other notes in the same bars, at once: what both timelines have sounds on, the rest is ended.

        Raises ValueError for a timeline that is not `same_tones.exchangeable`, and SinkGoneError.
        """
        if not exchangeable(self._timeline, timeline):
            raise ValueError("other bars, tempos, parts or channels")
        same = same_tones(self._timeline, timeline)
        with self._lock:
            clicks = ClickTrack(timeline.piece, timeline.voice(CLICK), self._plan.click)
            running = self.running
            cut, _, taken = self._cut() if running else (0, None, [])
            self._timeline = timeline
            kept = self._schedule.exchange(timeline, clicks, same, taken)
            if running:
                self._schedule.remake(cut, kept)
                self._delivery.hand_over()

    def set_passes(self, passes: int | None) -> None:
        """Change how many passes are played in all; None: until it is stopped. The pass that plays is always ended.

        Raises ValueError for less than 1, and SinkGoneError.
        """
        with self._lock:
            self._plan = replace(self._plan, passes=passes)
            self._alter(lambda *_: None)

    def set_count_in(self, bars: int) -> None:
        """Change how many bars are counted in when it next begins to play. Raises ValueError outside 0 to 4."""
        with self._lock:
            self._plan = replace(self._plan, count_in=bars)

    def ask_again(self) -> None:
        """Ask again for the pass to come, as the answer has changed; too late for one that is about to begin.

        Raises SinkGoneError.
        """
        with self._lock:
            stretches = self._schedule.stretches
            if self._follower_made and stretches[-1].first >= self._delivery.earliest():
                self._alter(lambda *_: None)

    # -- inside -------------------------------------------------------------------------------------------------

    @property
    def _follower_made(self) -> bool:
        """Whether the look-ahead has reached the pass after the one that plays."""
        return len(self._schedule.stretches) > 1

    def _alter(self, change: Callable[[Stretch, int], None]) -> None:
        """Change what plays at the cut, and make everything from there on anew. Does nothing when it does not play."""
        if self.running:
            cut, stretch, taken = self._cut()
            change(stretch, cut)
            self._schedule.remake(cut, taken)
            self._delivery.hand_over()
