"""The transport: plays a timeline into a sink, loops it, and changes anything while it plays.

It has no thread and no clock of its own. Whoever runs it calls `advance` often (`Runner` does, and offline rendering
on a virtual clock): each call hands the sink all events up to a look-ahead beyond the sink's clock. A change is made
at the earliest frame that the sink can still serve (the *cut*): what is due before it stays as it was, what is due
after it is taken back and made anew, and every note that sounds gets its end again. So a change is heard at once,
however far the look-ahead reaches, and position runs on through it without a jump.

Passes start at exact fractions of a frame, each computed from the start and length of the one before, never from
rounded frames. All methods may be called from any thread; callbacks are called from within `advance`.
"""

import threading
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from math import ceil

from trainer.playback.channels import level_events, set_up
from trainer.playback.click_track import ClickTrack, SilentBars
from trainer.playback.frame_map import FrameMap, round_half_up
from trainer.playback.human import Human
from trainer.playback.midi_clock import MidiClock
from trainer.playback.mix import CLICK, Mix
from trainer.playback.performance import Performance
from trainer.playback.piece import Loop
from trainer.playback.plan import Plan
from trainer.playback.position import Position, State, count_in_at, place_at
from trainer.playback.queue import Queued
from trainer.playback.same_tones import exchangeable, same_tones
from trainer.playback.schedule import Schedule
from trainer.playback.share import PassReport, share_for_bpm
from trainer.playback.sink import CutsAtFrame, Sink, TakesMessages
from trainer.playback.stretch import CountIn, Stretch
from trainer.playback.timeline import Timeline
from trainer.sounds.click_pattern import ClickPattern

AHEAD_SECONDS = Fraction(1, 4)
"""How far events are handed over ahead of the sink's clock, beyond what the sink itself needs."""

HALF_BLOCK = 31
"""Frames after its clock that a sink which cannot cut at a frame has carried out already: the synth rounds to the
nearest block of 64, and a port's process fires what is due before it reads that it was withdrawn."""


class Transport:
    """Plays a timeline into a sink. It does not close the sink."""

    def __init__(
        self,
        timeline: Timeline,
        sink: Sink,
        plan: Plan,
        *,
        next_share: Callable[[PassReport], Fraction | None] | None = None,
        on_pass: Callable[[PassReport], None] | None = None,
        ahead_seconds: Fraction = AHEAD_SECONDS,
        midi_clock: bool = False,
    ) -> None:
        """Prepare the sink.

        Args:
            timeline: what to play.
            sink: where to.
            plan: how to begin.
            next_share: asked for each pass but the first, when the look-ahead reaches it, with a report of the pass
                before; it returns the share of the target tempo, or None to end the playing there. It may be asked
                again for the same pass when something is changed before that pass begins. None: the tempo stays.
            on_pass: told of each pass when it has ended.
            ahead_seconds: how far ahead of the sink's clock events are handed over.
            midi_clock: send MIDI clock, start, stop and song position too, to a sink that takes them.

        Raises:
            SinkGoneError: the sink's device is no longer there.
        """
        self._timeline, self._sink, self._plan = timeline, sink, _checked(plan, timeline)
        self._next_share, self._on_pass = next_share, on_pass
        self._rate = sink.rate
        self._ahead = sink.min_ahead + ceil(ahead_seconds * sink.rate)
        self._lock = threading.RLock()
        human = None if plan.human_seed is None else Human(plan.human_seed)
        clicks = ClickTrack(timeline.piece, timeline.voice(CLICK), plan.click)
        self._schedule = Schedule(timeline, Performance(timeline, sink.rate, human), clicks)
        self._schedule.silent_bars = plan.silent_bars
        self._schedule.follow = self._following
        self._schedule.hear(plan.mix)
        self._messages = sink if midi_clock and isinstance(sink, TakesMessages) else None
        if self._messages:
            self._schedule.midi_clock = MidiClock(timeline)
        self._passes_done = 0
        self._stopped_at = self._loop_start()
        self._floor = 0
        sink.prepare(timeline.layout, set_up(timeline.voices, plan.mix))

    @property
    def timeline(self) -> Timeline:
        """What it plays."""
        return self._timeline

    @property
    def plan(self) -> Plan:
        """How it plays now, with every change so far."""
        return self._plan

    @property
    def running(self) -> bool:
        """Whether it plays or counts in; False once all passes have ended or it was stopped."""
        return bool(self._schedule.stretches)

    # -- playing ------------------------------------------------------------------------------------------------

    def play(self, start: int | None = None) -> None:
        """Begin to play where it was stopped; at first, and after all passes, at the loop's first bar.

        With a count-in, it begins with that, and then at the start of the bar it was stopped in. Does nothing while it
        plays.

        Args:
            start: the frame to begin at, when the sink can still serve it; by default as soon as possible.

        Raises:
            SinkGoneError: the sink's device is no longer there.
        """
        with self._lock:
            if self.running:
                return
            begin = Fraction(max(self._sink.now() + self._sink.min_ahead, self._floor, start or 0))
            schedule, curve = self._schedule, self._timeline.curve
            if self._plan.count_in:
                bar = schedule.bar_at(self._stopped_at)
                self._stopped_at = curve.at(self._timeline.piece.bars[bar].at)
                schedule.count_in = CountIn.before(self._timeline, bar, self._plan.count_in)
                schedule.begin(schedule.count_in.stretch(self._rate, self._plan.share, begin))
            else:
                schedule.begin(self._pass(self._passes_done + 1, begin, self._stopped_at, self._plan.share))
            self._hand_over()

    def stop(self) -> None:
        """End every note and stay where the playing is. Does nothing when it does not play. Raises SinkGoneError."""
        with self._lock:
            if not self.running:
                return
            cut, stretch, _ = self._cut()
            if not stretch.counting_in:
                at = stretch.frames.seconds_at(cut)
                self._stopped_at = at if stretch.begin_at <= at < stretch.end_at else self._loop_start()
                self._passes_done = stretch.number - 1
            self._schedule.end_sounding(cut)
            self._schedule.end(cut)
            self._hand_over()

    def rewind(self) -> None:
        """Stop, and go back to the first pass and the loop's first bar. Raises SinkGoneError."""
        with self._lock:
            self.stop()
            self._passes_done = 0
            self._stopped_at = self._loop_start()

    def seek(self, bar: int, offset: Fraction = Fraction(0)) -> None:
        """Go to another place of the loop, and on from there at once, in the same pass, if it plays.

        A count-in that is under way is over with that.

        Raises:
            ValueError: the bar is outside the loop, or the offset (in whole notes) outside the bar.
            SinkGoneError: the sink's device is no longer there.
        """
        with self._lock:
            if bar not in self._plan.loop or not 0 <= offset < self._timeline.piece.bars[bar].meter.length:
                raise ValueError(f"bar {bar}, {offset} is outside the loop")
            self._go_to(self._timeline.curve.at(self._timeline.piece.bars[bar].at + offset))

    def advance(self) -> bool:
        """Hand the sink what comes next, and tell of passes that have ended; whether it still runs.

        Raises SinkGoneError; what a callback raises comes through.
        """
        with self._lock:
            now = self._sink.now()
            self._schedule.forget(now - 1)
            if self._schedule.midi_clock:
                self._schedule.midi_clock.forget(now - 1)
            self._hand_over()
            reports = self._ended_passes(now)
            running = self.running
        if self._on_pass is not None:
            for report in reports:
                self._on_pass(report)
        return running

    def position(self) -> Position:
        """Where the playing is at the sink's clock. Raises SinkGoneError."""
        with self._lock:
            number, curve, schedule = self._passes_done + 1, self._timeline.curve, self._schedule
            if not schedule.stretches:
                bar = schedule.bar_at(self._stopped_at)
                return place_at(self._timeline, bar, self._stopped_at, self._plan.share, number, State.STOPPED)
            now = self._sink.now()
            stretch = next((each for each in schedule.stretches if each.end > now), schedule.stretches[-1])
            if stretch.counting_in and schedule.count_in:
                bar = schedule.bar_at(self._stopped_at)
                return count_in_at(self._timeline, bar, schedule.count_in, stretch, now, number)
            begin = curve.at(self._timeline.piece.bars[stretch.loop.first].at)
            seconds = min(max(begin, stretch.frames.seconds_at(max(now, stretch.first))), stretch.end_at)
            bar = min(schedule.bar_at(seconds), stretch.loop.last)
            return place_at(self._timeline, bar, seconds, stretch.share, stretch.number, State.PLAYING)

    # -- changes ------------------------------------------------------------------------------------------------

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
            self._plan = _checked(replace(self._plan, loop=loop), self._timeline)
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
            self._hand_over()

    def set_mix(self, mix: Mix) -> None:
        """Change who is heard, how loud and from where, at once. Raises SinkGoneError."""
        with self._lock:
            before, self._plan = self._plan.mix, replace(self._plan, mix=mix)
            if self._schedule.hear(mix):
                self._alter(lambda *_: None)
            frame = max(self._sink.now() + self._sink.min_ahead, self._floor)
            for voice in self._timeline.voices:
                new = level_events(voice, mix, frame)
                if new != level_events(voice, before, frame):
                    self._schedule.put(new)
            self._hand_over()

    def prepare_next(self, loop: Loop | None = None, mix: Mix | None = None) -> None:
        """Let the next pass have other bars, or another mix, from its first downbeat on.

        For `next_share` to call, and for nobody else: then every tone of the pass before has been made.
        Raises ValueError for bars that the piece has not.
        """
        with self._lock:
            if loop is not None:
                self._plan = _checked(replace(self._plan, loop=loop), self._timeline)
            if mix is not None and mix != self._plan.mix:
                before, self._plan = self._plan.mix, replace(self._plan, mix=mix)
                self._schedule.hear(mix)
                frame = round_half_up(self._schedule.stretches[-1].end)
                for voice in self._timeline.voices:
                    new = level_events(voice, mix, frame)
                    if new != level_events(voice, before, frame):
                        self._schedule.put(new)

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
                self._hand_over()

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

    # -- inside -------------------------------------------------------------------------------------------------

    def _loop_start(self) -> Fraction:
        return self._timeline.curve.at(self._timeline.piece.bars[self._plan.loop.first].at)

    def _pass(self, number: int, frame: Fraction, seconds: Fraction, share: Fraction) -> Stretch:
        frames = FrameMap(self._timeline.curve, self._rate, share, seconds, frame)
        return self._schedule.pass_from(number, self._plan.loop, frames, seconds)

    def _following(self, stretch: Stretch) -> Stretch | None:
        """The stretch after another one: the schedule asks when the look-ahead reaches its end."""
        if stretch.counting_in:
            return self._pass(self._passes_done + 1, stretch.end, self._stopped_at, stretch.share)
        if self._plan.passes is not None and stretch.number >= self._plan.passes:
            return None
        share = stretch.share if self._next_share is None else self._next_share(self._report(stretch))
        return None if share is None else self._pass(stretch.number + 1, stretch.end, self._loop_start(), share)

    def _report(self, stretch: Stretch) -> PassReport:
        tempo = stretch.share * self._timeline.piece.target_bpm(stretch.loop.first)
        return PassReport(stretch.number, stretch.share, tempo, stretch.began, stretch.end, stretch.steady)

    def _hand_over(self) -> None:
        horizon = self._sink.now() + self._ahead
        self._schedule.fill(horizon)
        events = self._schedule.take(horizon)
        if events:
            self._sink.send(events)
        if self._messages and self._schedule.midi_clock:
            messages = self._schedule.midi_clock.take(horizon)
            if messages:
                self._messages.send_raw(messages)

    def _ended_passes(self, now: int) -> list[PassReport]:
        schedule, reports = self._schedule, []
        while schedule.stretches and now >= round_half_up(schedule.stretches[0].end):
            if len(schedule.stretches) == 1 and not schedule.ended:
                break
            stretch = schedule.stretches.pop(0)
            if not stretch.counting_in:
                reports.append(self._report(stretch))
                self._passes_done = stretch.number
            if schedule.stretches:
                self._plan = replace(self._plan, share=schedule.stretches[0].share)
            else:
                schedule.end(now)
                self._passes_done, self._stopped_at = 0, self._loop_start()
        return reports

    def _cut(self) -> tuple[int, Stretch, list[Queued]]:
        """Withdraw what is not fixed.

        Returns:
            The frame from which on everything is made anew, what plays there, and what was taken back.
        """
        exact = self._sink if isinstance(self._sink, CutsAtFrame) else None
        if exact is None:
            self._sink.withdraw()
        now = self._sink.now()
        self._floor = max(self._floor, now + self._sink.min_ahead)
        if exact is not None:
            exact.withdraw_from(self._floor)
        carried_out = now - 1 if exact else now + HALF_BLOCK
        self._schedule.forget(carried_out)
        again, unsent, taken = self._schedule.cut(self._floor)
        events = unsent if exact else sorted(again + unsent)
        if events:
            self._sink.send(events)
        stretch, clock = self._schedule.stretches[-1], self._schedule.midi_clock
        if self._messages and clock:
            clock.forget(carried_out)
            told, untold = clock.cut(self._floor, stretch)
            messages = untold if exact else told + untold
            if messages:
                self._messages.send_raw(messages)
        return self._floor, stretch, taken

    def _alter(self, change: Callable[[Stretch, int], None]) -> None:
        """Change what plays at the cut, and make everything from there on anew. Does nothing when it does not play."""
        if self.running:
            cut, stretch, taken = self._cut()
            change(stretch, cut)
            self._schedule.remake(cut, taken)
            self._hand_over()

    def _go_to(self, seconds: Fraction) -> None:
        if not self.running:
            self._stopped_at = seconds
            return
        cut, stretch, _ = self._cut()
        self._restart(cut, stretch, seconds)
        self._hand_over()

    def _restart(self, cut: int, stretch: Stretch, seconds: Fraction) -> None:
        """End what sounds, and play on from another place."""
        number = self._passes_done + 1 if stretch.counting_in else stretch.number
        self._schedule.end_sounding(cut)
        self._schedule.end(cut)
        self._schedule.begin(self._pass(number, Fraction(cut), seconds, stretch.share))


def _checked(plan: Plan, timeline: Timeline) -> Plan:
    if plan.loop.last >= len(timeline.piece.bars):
        raise ValueError(f"the piece has only {len(timeline.piece.bars)} bars")
    return plan
