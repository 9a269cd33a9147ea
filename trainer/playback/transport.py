"""The transport: plays a timeline into a sink, pass after pass, and changes anything while it plays.

It has no thread and no clock of its own. Whoever runs it calls `advance` often (the stand's player from a thread,
offline rendering on a virtual clock): each call hands the sink all events up to a look-ahead beyond the sink's clock.

Passes start at exact fractions of a frame, each computed from the start and length of the one before, never from
rounded frames. A pass is reported as soon as it counts (`Stretch.counts_at`): some tens of ms before its end, so that
it can be on disk before the first note of the next one sounds. When it is stopped after that, it goes on with the next
pass.

A change is made at the earliest frame that the sink can still serve (the *cut*): events due before the cut stay as
they are, events due after it are taken back and made anew, and every sounding note still gets its end. So a change is
heard at once, however far the look-ahead reaches, and the position runs on through it without a jump.
"""

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.playback.channels import level_events, set_up
from trainer.playback.click_track import ClickTrack
from trainer.playback.delivery import Delivery
from trainer.playback.frame_map import FrameMap, round_half_up
from trainer.playback.human import Human
from trainer.playback.midi_clock import MidiClock
from trainer.playback.mix import CLICK, Mix
from trainer.playback.piece import Loop
from trainer.playback.plan import Plan
from trainer.playback.position import Position, State, count_in_at, place_at
from trainer.playback.queue import Queued
from trainer.playback.schedule import Schedule
from trainer.playback.share import PassReport
from trainer.playback.sink import Sink
from trainer.playback.stretch import CountIn, Stretch
from trainer.playback.timeline import Timeline
from trainer.playback.tone_events import ToneEvents

AHEAD_SECONDS = Fraction(1, 4)
"""How far events are handed over ahead of the sink's clock, beyond what the sink itself needs."""


class Transport:
    """Plays a timeline into a sink. It does not close the sink. All methods may be called from any thread."""

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
            on_pass: told of each pass when it counts, once, from within `advance` or `tell`.
            ahead_seconds: how far ahead of the sink's clock events are handed over.
            midi_clock: send MIDI clock, start, stop and song position too, to a sink that takes them.

        Raises:
            SinkGoneError: the sink's device is no longer there.
        """
        self._timeline, self._plan = timeline, plan.within(timeline.piece)
        self._next_share, self._on_pass = next_share, on_pass
        self._rate = sink.rate
        self._lock = threading.RLock()
        human = None if plan.human_seed is None else Human(plan.human_seed)
        clicks = ClickTrack(timeline.piece, timeline.voice(CLICK), plan.click)
        self._schedule = Schedule(timeline, ToneEvents(timeline, sink.rate, human), clicks)
        self._schedule.silent_bars = plan.silent_bars
        self._schedule.follow = self._following
        self._delivery = Delivery(sink, self._schedule, ahead_seconds, MidiClock(timeline) if midi_clock else None)
        self._coming: tuple[Loop, Mix] | None = None
        self._untold: deque[PassReport] = deque()
        self._passes_done = 0
        self._stopped_at = self._loop_start()
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
            begin = Fraction(max(self._delivery.earliest(), start or 0))
            schedule, curve = self._schedule, self._timeline.curve
            if self._plan.count_in:
                bar = schedule.bar_at(self._stopped_at)
                self._stopped_at = curve.at(self._timeline.piece.bars[bar].at)
                schedule.count_in = CountIn.before(self._timeline, bar, self._plan.count_in)
                schedule.begin(schedule.count_in.stretch(self._rate, self._plan.share, begin))
            else:
                schedule.begin(self._pass(self._passes_done + 1, begin, self._stopped_at, self._plan.share))
            self._delivery.hand_over()

    def stop(self) -> None:
        """End every note and stay where the playing is; a pass that counts by now is over.

        Does nothing when it does not play. Raises SinkGoneError.
        """
        with self._lock:
            if not self.running:
                return
            cut, stretch, _ = self._cut()
            if stretch.counted:
                self._stopped_at = self._loop_start()
                self._passes_done = 0 if stretch.number == self._plan.passes else stretch.number
            elif not stretch.counting_in:
                at = stretch.frames.seconds_at(cut)
                self._stopped_at = at if stretch.begin_at <= at < stretch.end_at else self._loop_start()
                self._passes_done = stretch.number - 1
            self._schedule.end_sounding(cut)
            self._schedule.end(cut)
            self._delivery.hand_over()

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
            seconds = self._timeline.curve.at(self._timeline.piece.bars[bar].at + offset)
            if not self.running:
                self._stopped_at = seconds
                return
            cut, stretch, _ = self._cut()
            self._restart(cut, stretch, seconds)
            self._delivery.hand_over()

    def advance(self) -> bool:
        """Hand the sink what comes next, and tell of passes that count by now; whether it still runs.

        Raises SinkGoneError; what a callback raises comes through.
        """
        with self._lock:
            now = self._delivery.now()
            self._delivery.forget(now - 1)
            self._delivery.hand_over()
            self._count(now)
            self._leave_ended(now)
            running = self.running
        self._tell()
        return running

    def tell(self) -> None:
        """Tell of passes that count by now, without waiting for `advance`. Raises as that does."""
        with self._lock:
            self._count(self._delivery.now())
        self._tell()

    def position(self) -> Position:
        """Where the playing is at the sink's clock. Raises SinkGoneError."""
        with self._lock:
            number, curve, schedule = self._passes_done + 1, self._timeline.curve, self._schedule
            if not schedule.stretches:
                bar = schedule.bar_at(self._stopped_at)
                return place_at(self._timeline, bar, self._stopped_at, self._plan.share, number, State.STOPPED)
            now = self._delivery.now()
            stretch = next((each for each in schedule.stretches if each.end > now), schedule.stretches[-1])
            if stretch.counting_in and schedule.count_in:
                bar = schedule.bar_at(self._stopped_at)
                return count_in_at(self._timeline, bar, schedule.count_in, stretch, now, number)
            begin = curve.at(self._timeline.piece.bars[stretch.loop.first].at)
            seconds = min(max(begin, stretch.frames.seconds_at(max(now, stretch.first))), stretch.end_at)
            bar = min(schedule.bar_at(seconds), stretch.loop.last)
            state, number = State.PLAYING, stretch.number
            return place_at(self._timeline, bar, seconds, stretch.share, number, state, stretch.began)

    def prepare_next(self, loop: Loop, mix: Mix) -> None:
        """Let the next pass have other bars and another mix, from its first downbeat on.

        For `next_share` to call, and for nobody else. Raises ValueError for bars that the piece has not.
        """
        with self._lock:
            self._coming = replace(self._plan, loop=loop).within(self._timeline.piece).loop, mix

    # -- changes ------------------------------------------------------------------------------------------------

    def change(self, plan: Plan) -> None:
        """Play by another plan from now on: what differs from the plan so far is changed at once, all in one cut.

        Tempo, bars, click, silent bars and the parts that are heard change at the cut, levels and pans a moment
        before it. In other bars it goes on where it is if that lies among them, else at their start. A count-in
        applies when it next begins to play. With fewer passes, the pass that plays is still played to its end. A pass
        that counts already, and only sounds on, stays as it is where the next one has been given what `plan` asks for.

        Nothing is handed over again for a plan that changes nothing. To change one thing, replace it in `plan`:
        `transport.change(replace(transport.plan, share=share))`.

        Raises:
            ValueError: the plan has bars that the piece has not, or another `human_seed`; nothing has changed then.
            SinkGoneError: the sink's device is no longer there.
        """
        with self._lock:
            before = self._plan
            if plan.human_seed != before.human_seed:
                raise ValueError("how human it sounds cannot change while it plays")
            self._plan = plan.within(self._timeline.piece)
            if (plan.click, plan.silent_bars) != (before.click, before.silent_bars):
                self._schedule.clicks = ClickTrack(self._timeline.piece, self._timeline.voice(CLICK), plan.click)
                self._schedule.silent_bars = plan.silent_bars
            if not self.running or self._schedule.stretches[0].counting_in:
                self._stopped_at = self._nearest(self._stopped_at)
            if not self.running:
                self._put_levels(before.mix, plan.mix, self._delivery.earliest())
            elif self._needs_cut(before):
                self._apply(before)
            else:
                for stretch in self._schedule.stretches:
                    self._schedule.hear(stretch, plan.mix)
                self._put_levels(before.mix, plan.mix, self._delivery.earliest())
            self._delivery.hand_over()

    def set_timeline(self, timeline: Timeline) -> None:
        """Play other notes in the same bars, at once: what both timelines have sounds on, the rest is ended.

        Raises ValueError for a timeline that is not `Timeline.exchangeable`, and SinkGoneError.
        """
        if not self._timeline.exchangeable(timeline):
            raise ValueError("other bars, tempos, parts or channels")
        same = self._timeline.tones_in(timeline)
        with self._lock:
            clicks = ClickTrack(timeline.piece, timeline.voice(CLICK), self._plan.click)
            running = self.running
            cut, _, taken = self._cut() if running else (0, None, [])
            self._timeline = timeline
            kept = self._schedule.exchange(timeline, clicks, same, taken)
            if running:
                self._schedule.remake(cut, kept)
                self._delivery.hand_over()

    def ask_again(self) -> None:
        """Ask again for the pass to come, as the answer has changed; too late for one that is about to begin.

        Raises SinkGoneError.
        """
        with self._lock:
            stretches = self._schedule.stretches
            if self._follower_made and stretches[-1].first >= self._delivery.earliest():
                cut, _, taken = self._cut()
                self._schedule.remake(cut, taken)
                self._delivery.hand_over()

    # -- inside -------------------------------------------------------------------------------------------------

    @property
    def _follower_made(self) -> bool:
        """Whether the look-ahead has reached the pass after the one that plays."""
        return len(self._schedule.stretches) > 1

    def _needs_cut(self, before: Plan) -> bool:
        """Whether the plan asks for other events than those handed over; levels alone are only added to them."""
        plan, stretches = self._plan, self._schedule.stretches
        if stretches[0].counted and self._follower_made:
            coming = stretches[1]
            if (coming.share, coming.loop, coming.mix) != (plan.share, plan.loop, plan.mix):
                return True
        if self._schedule.voices_in(plan.mix) != self._schedule.voices_in(before.mix):
            return True
        if self._follower_made and plan.mix != before.mix:
            return True
        return replace(plan, mix=before.mix, count_in=before.count_in) != before

    def _apply(self, before: Plan) -> None:
        """Cut, let what plays at the cut follow the plan, and make everything from there on anew."""
        plan, made = self._plan, self._schedule.stretches[:]
        cut, stretch, taken = self._cut()
        dropped = [each for each in made if each not in self._schedule.stretches]
        coming = dropped[0] if dropped and stretch.counted else None
        seconds = stretch.frames.seconds_at(max(cut, stretch.first))
        in_time = coming is None or coming.loop != plan.loop
        other_bars = not stretch.counting_in and stretch.loop != plan.loop and in_time
        moves = other_bars and self._nearest(seconds) != seconds
        coming = None if moves else coming
        if stretch.share != plan.share and (coming is None or coming.share != plan.share):
            stretch.steady = stretch.steady and cut <= stretch.began
            stretch.frames = stretch.frames.rescaled(cut, plan.share)
        mix = before.mix if stretch.counting_in else stretch.mix
        if mix != plan.mix and (coming is None or coming.mix != plan.mix):
            for each in self._schedule.stretches:
                self._schedule.hear(each, plan.mix)
            self._put_levels(mix, plan.mix, cut)
        if moves:
            self._restart(cut, stretch, self._loop_start())
            return
        if other_bars:
            self._schedule.reloop(stretch, plan.loop)
        self._schedule.remake(cut, taken)

    def _nearest(self, seconds: Fraction) -> Fraction:
        """A place in seconds at the target tempo, if it lies in the plan's loop; else the loop's start."""
        end = self._timeline.curve.at(self._timeline.piece.bars[self._plan.loop.last].end)
        return seconds if self._loop_start() <= seconds < end else self._loop_start()

    def _loop_start(self) -> Fraction:
        return self._timeline.curve.at(self._timeline.piece.bars[self._plan.loop.first].at)

    def _pass(self, number: int, frame: Fraction, seconds: Fraction, share: Fraction) -> Stretch:
        """A pass through the plan's loop, from a place in seconds at the target tempo."""
        frames = FrameMap(self._timeline.curve, self._rate, share, seconds, frame)
        return self._schedule.pass_from(number, self._plan.loop, self._plan.mix, frames, seconds)

    def _following(self, stretch: Stretch) -> Stretch | None:
        """The stretch after another one: the schedule asks when the look-ahead reaches its end."""
        if stretch.counting_in:
            return self._pass(self._passes_done + 1, stretch.end, self._stopped_at, stretch.share)
        if self._plan.passes is not None and stretch.number >= self._plan.passes:
            return None
        self._coming = None
        share = stretch.share if self._next_share is None else self._next_share(self._report(stretch))
        if share is None:
            return None
        loop, mix = self._coming or (self._plan.loop, self._plan.mix)
        start = self._timeline.curve.at(self._timeline.piece.bars[loop.first].at)
        frames = FrameMap(self._timeline.curve, self._rate, share, start, stretch.end)
        following = self._schedule.pass_from(stretch.number + 1, loop, mix, frames, start)
        self._put_levels(stretch.mix, mix, round_half_up(stretch.end), following)
        return following

    def _put_levels(self, before: Mix, after: Mix, frame: int, stretch: Stretch | None = None) -> None:
        """Let levels and pans change from one mix to another at a frame."""
        for voice in self._timeline.voices:
            new = level_events(voice, after, frame)
            if new != level_events(voice, before, frame):
                self._schedule.put(new, stretch)

    def _report(self, stretch: Stretch) -> PassReport:
        tempo = stretch.share * self._timeline.piece.target_bpm(stretch.loop.first)
        return PassReport(stretch.number, stretch.share, tempo, stretch.began, stretch.end, stretch.steady)

    def _count(self, now: int) -> None:
        """Count the passes that are as good as over."""
        for stretch in self._schedule.stretches:
            if stretch.counting_in or stretch.counted:
                continue
            if now < stretch.counts_at(self._timeline.tones):
                return
            stretch.counted = True
            self._passes_done = stretch.number
            self._untold.append(self._report(stretch))

    def _cut(self) -> tuple[int, Stretch, list[Queued]]:
        """Withdraw what is not fixed, as `Delivery.cut`; what counts by now has been counted before."""
        self._count(self._delivery.now())
        return self._delivery.cut()

    def _tell(self) -> None:
        while self._untold:
            with self._lock:
                report = self._untold.popleft() if self._untold else None
            if report is not None and self._on_pass is not None:
                self._on_pass(report)

    def _leave_ended(self, now: int) -> None:
        """Let go of stretches that have ended."""
        schedule = self._schedule
        while schedule.stretches and now >= round_half_up(schedule.stretches[0].end):
            if len(schedule.stretches) == 1 and not schedule.ended:
                return
            schedule.stretches.pop(0)
            if schedule.stretches:
                coming = schedule.stretches[0]
                self._plan = replace(self._plan, share=coming.share, loop=coming.loop, mix=coming.mix)
            else:
                schedule.end(now)
                self._passes_done, self._stopped_at = 0, self._loop_start()

    def _restart(self, cut: int, stretch: Stretch, seconds: Fraction) -> None:
        """End what sounds, and play on from another place: in the same pass, or in the next one when that counts."""
        over = stretch.counting_in or stretch.counted
        number = self._passes_done + 1 if over else stretch.number
        self._schedule.end_sounding(cut)
        self._schedule.end(cut)
        self._schedule.begin(self._pass(number, Fraction(cut), seconds, stretch.share))
