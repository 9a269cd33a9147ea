"""Making events ahead of time, and making them anew from a cut on.

A schedule holds the stretches that are being played and those that follow, as far as the look-ahead reaches. `fill`
makes the events that begin before a frame. `cut` fixes what lies before a frame and takes back the rest; `remake`
makes that anew, however the stretch has been altered meanwhile: tones and clicks that have begun are not begun twice,
those that were taken back are not lost, and every note that sounds gets its end.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping
from fractions import Fraction

from trainer.playback.click_track import Click, ClickTrack, SilentBars
from trainer.playback.event import Event, Kind
from trainer.playback.frame_map import FrameMap, round_half_up
from trainer.playback.gesture import REST
from trainer.playback.midi_clock import MidiClock
from trainer.playback.mix import CLICK, Mix
from trainer.playback.piece import Loop
from trainer.playback.queue import Owner, Queue, Queued
from trainer.playback.stretch import NO_CLICK, CountIn, Stretch, pass_stretch
from trainer.playback.timeline import Timeline
from trainer.playback.tone_events import ChannelStates, ToneEvents


class Schedule:
    """The events of what is played, on the clock of one sink."""

    def __init__(self, timeline: Timeline, performance: ToneEvents, clicks: ClickTrack) -> None:
        """An empty schedule.

        Args:
            timeline: what is played.
            performance: makes the events of tones.
            clicks: says where the click sounds; `silent_bars` says in which bars it does not.
        """
        self.timeline = timeline
        self.clicks = clicks
        self.silent_bars: SilentBars | None = None
        self.stretches: list[Stretch] = []
        """In order of time; the first one is being played or about to begin."""
        self.ended = True
        """Whether no stretch follows the last one."""
        self.follow: Callable[[Stretch], Stretch | None] = lambda _: None
        """Asked for the stretch after the last one; None ends the playing."""
        self.count_in: CountIn | None = None
        self.midi_clock: MidiClock | None = None
        """Makes the clock for outside machines, if that is asked for."""
        self._performance = performance
        self._queue = Queue([REST] * len(timeline.layout.channels))
        self._click_channel = timeline.voice(CLICK).channels[0]
        self._begun_early: dict[int, set[int]] = {}
        self._cut = 0  # the last cut: nothing can begin before it any more

    def voices_in(self, mix: Mix) -> frozenset[int]:
        """The indices of the voices that are heard in a mix, the click's among them."""
        return frozenset(i for i, voice in enumerate(self.timeline.voices) if mix.heard(voice.part))

    def hear(self, stretch: Stretch, mix: Mix) -> None:
        """Make a stretch's events only for the voices that are heard in a mix."""
        stretch.mix, stretch.heard = mix, self.voices_in(mix)

    def begin(self, stretch: Stretch) -> None:
        """Play a stretch, and what follows it."""
        self.stretches = [stretch]
        self.ended = False

    def end(self, frame: int) -> None:
        """Play nothing more from a frame on; call it after `cut`, or when everything has been played."""
        if self.midi_clock:
            self.midi_clock.end(frame)
        self.stretches = []
        self.ended = True
        self._begun_early = {}

    def pass_from(self, number: int, loop: Loop, mix: Mix, frames: FrameMap, seconds: Fraction) -> Stretch:
        """A pass that begins at a place inside its loop, given in seconds at the target tempo."""
        stretch = pass_stretch(self.timeline, number, loop, frames)
        self.hear(stretch, mix)
        stretch.begun |= self._begun_early.pop(number, set())
        if seconds > stretch.begin_at:
            stretch.steady = False
            first = stretch.first_frame = frames.frame_of(seconds)
            stretch.first_cursor = self._cursor_at(stretch, first)
            stretch.cursor = stretch.first_cursor
            stretch.click_bar = self.bar_at(seconds)
        return stretch

    def bar_at(self, seconds: Fraction) -> int:
        """The index of the bar at a place given in seconds at the target tempo."""
        place = self.timeline.curve.place(seconds)
        found = bisect_right(self.timeline.piece.bars, place, key=lambda bar: bar.at) - 1
        return max(0, min(found, len(self.timeline.piece.bars) - 1))

    # -- ahead of time ------------------------------------------------------------------------------------------

    def fill(self, horizon: int) -> None:
        """Make the events of everything that begins before a frame."""
        limit = horizon + self._performance.most_early
        while self.stretches:
            stretch = self.stretches[-1]
            self._make_tones(stretch, limit)
            self._make_clicks(stretch, limit)
            if self.midi_clock:
                self.midi_clock.fill(stretch, limit)
            if stretch.end > limit or self.ended:
                return
            following = self.follow(stretch)
            if following is None:
                self.ended = True
                if self.midi_clock:
                    self.midi_clock.end(round_half_up(stretch.end))
            else:
                self.stretches.append(following)

    def take(self, horizon: int) -> list[Event]:
        """The events to hand over up to a frame, in order."""
        return self._queue.take(horizon)

    def forget(self, carried_out: int) -> None:
        """The events up to and at a frame have been carried out."""
        self._queue.forget(carried_out)

    def put(self, events: list[Event], stretch: Stretch | None = None) -> None:
        """Add events that belong to no note; those of a stretch are dropped with it."""
        self._queue.put(events, None if stretch is None else Owner(stretch, -1, NO_CLICK))

    def _make_tones(self, stretch: Stretch, limit: int) -> None:
        tones, frames = self.timeline.tones, stretch.frames
        while stretch.cursor < stretch.end_cursor:
            index = stretch.cursor
            if frames.frame(tones[index].step) >= limit:
                return
            stretch.cursor += 1
            self._begin_tone(stretch, index)

    def _begin_tone(self, stretch: Stretch, index: int) -> None:
        tone = self.timeline.tones[index]
        if tone.voice in stretch.heard and index not in stretch.begun:
            made = self._performance.begin(tone, stretch.frames, stretch.number, stretch.last_step, self._cut)
            self._queue.put(made, Owner(stretch, index, NO_CLICK))

    def _make_clicks(self, stretch: Stretch, limit: int) -> None:
        while stretch.click_bar <= stretch.loop.last:
            start, clicks = self._clicks_of(stretch, stretch.click_bar)
            if stretch.frames.frame_at(start) >= limit:
                return
            for click in clicks:
                self._put_click(stretch, stretch.click_bar, start, click, stretch.first)
            stretch.click_bar += 1

    def _clicks_of(self, stretch: Stretch, bar: int) -> tuple[Fraction, tuple[Click, ...]]:
        """Where a bar begins, and its clicks."""
        if stretch.counting_in:
            assert self.count_in is not None  # noqa: S101  # it is what the stretch was made from
            return self.count_in.starts[bar], self.clicks.count_in(self.count_in.meter)
        number = (stretch.number - 1) * stretch.loop.bars + bar - stretch.loop.first
        heard = stretch.mix.heard(CLICK) and (self.silent_bars is None or self.silent_bars.sounds(number))
        return self.timeline.piece.bars[bar].at, self.clicks.bar(bar) if heard else ()

    def _put_click(
        self, stretch: Stretch, bar: int, start: Fraction, click: Click, earliest: int, *, late: bool = False
    ) -> None:
        frame = stretch.frames.frame_at(start + click.place)
        if (frame >= earliest or late) and (bar, click.place) not in stretch.begun_clicks:
            event = Event(max(frame, earliest), Kind.CLICK, self._click_channel, int(click.accented), click.velocity)
            self._queue.put([event], Owner(stretch, -1, (bar, click.place)))

    # -- changes ------------------------------------------------------------------------------------------------

    def cut(self, frame: int) -> tuple[list[Event], list[Event], list[Queued]]:
        """Fix everything before a frame, and take back the rest; stretches that would begin later are dropped.

        Returns:
            The events before the frame that were handed over and may not have been carried out, those that were not
            handed over yet, and what was taken back, for `remake`.
        """
        self.fill(frame)
        self._cut = frame
        self.ended = False  # what follows is asked for again
        staying, unsent, taken = self._queue.cut(frame)
        while len(self.stretches) > 1 and self.stretches[-1].first >= frame:
            dropped = self.stretches.pop()
            if dropped.begun:
                self._begun_early[dropped.number] = dropped.begun
        states = self._performance.states
        states.wheels = self._queue.wheels[:]
        for event, *_ in taken:
            if event.kind in (Kind.PROGRAM, Kind.CONTROL):
                states.sounds[event.channel] = -1
        self._queue.put(event for event, _, owner in taken if owner is None and event.kind is Kind.CONTROL)
        return staying, unsent, taken

    def end_sounding(self, cut: int) -> None:
        """End every note that sounds at the cut."""
        self._queue.put(Event(cut, Kind.NOTE_OFF, channel, key, 0) for channel, key in self._queue.sounding)

    def reloop(self, stretch: Stretch, loop: Loop) -> None:
        """Let a pass, which is at a place inside `loop`, go on to the end of that; call it before `remake`."""
        other = pass_stretch(self.timeline, stretch.number, loop, stretch.frames)
        stretch.steady = stretch.steady and stretch.loop == loop
        stretch.loop, stretch.last_step = loop, other.last_step
        stretch.begin_at, stretch.end_at = other.begin_at, other.end_at
        stretch.first_cursor = min(stretch.first_cursor, other.first_cursor)
        stretch.end_cursor = other.end_cursor

    def exchange(
        self, timeline: Timeline, clicks: ClickTrack, same: Mapping[int, int], taken: list[Queued]
    ) -> list[Queued]:
        """Play the tones of another timeline of the same bars and channels; call it between `cut` and `remake`.

        Args:
            timeline: the other timeline.
            clicks: where the click sounds in it.
            same: `Timeline.tones_in` of the two. What sounds and is not among them is ended by `remake`.
            taken: what `cut` took back.

        Returns:
            What was taken back of the tones that both have, for `remake`.
        """
        old, self.timeline, self.clicks = self.timeline, timeline, clicks
        states = self._performance.states
        self._performance = ToneEvents(timeline, self._performance.rate, self._performance.human)
        sounds = {sound: index for index, sound in enumerate(timeline.sounds)}
        known = (sounds.get(old.sounds[index], -1) if index >= 0 else -1 for index in states.sounds)
        self._performance.states = ChannelStates(list(known), states.wheels)
        for stretch in self.stretches:
            if not stretch.counting_in:
                stretch.exchange(old, timeline, same)
        self._begun_early = {
            number: {same[index] for index in begun if index in same} for number, begun in self._begun_early.items()
        }
        self._queue.sounding = {note: _moved(owner, same) for note, owner in self._queue.sounding.items()}
        moved = (queued._replace(owner=_moved(queued.owner, same)) for queued in taken)
        return [queued for queued in moved if queued.owner is not None]

    def remake(self, cut: int, taken: list[Queued]) -> None:
        """Make everything from the cut on anew, after the last stretch has been altered."""
        stretch = self.stretches[-1]
        self._go_on(cut)
        lost = {
            owner.tone for event, _, owner in taken if owner and owner.stretch is stretch and event.kind is Kind.NOTE_ON
        }
        reached = min(stretch.cursor, stretch.end_cursor)
        again = lost.union(range(self._cursor_at(stretch, cut), reached))
        stretch.cursor = reached
        for index in sorted(again):
            if index < stretch.end_cursor:
                self._begin_tone(stretch, index)
        self._redo_clicks(stretch, cut, {owner.click for *_, owner in taken if owner and owner.stretch is stretch})

    def _go_on(self, cut: int) -> None:
        """Let the notes that sound go on to their ends; where their part or their stretch is gone, end them."""
        for (channel, key), owner in list(self._queue.sounding.items()):
            tone = self.timeline.tones[owner.tone] if owner else None
            if owner and tone and owner.stretch in self.stretches and tone.voice in owner.stretch.heard:
                stretch = owner.stretch
                made = self._performance.go_on(tone, stretch.frames, stretch.number, stretch.last_step, cut)
                self._queue.put(made, owner)
            else:
                self._queue.put([Event(cut, Kind.NOTE_OFF, channel, key, 0)])

    def _redo_clicks(self, stretch: Stretch, cut: int, lost: set[tuple[int, Fraction]]) -> None:
        first = stretch.loop.first if stretch.counting_in else self.bar_at(stretch.frames.seconds_at(cut))
        reached = stretch.click_bar = max(first, min(stretch.click_bar, stretch.loop.last + 1))
        for bar in range(max(stretch.loop.first, first - 1), reached):
            start, clicks = self._clicks_of(stretch, bar)
            for click in clicks:
                late = (bar, click.place) in lost
                self._put_click(stretch, bar, start, click, max(cut, stretch.first), late=late)

    def _cursor_at(self, stretch: Stretch, frame: int) -> int:
        """The index of the first tone of a stretch that is written at or after a frame."""
        frames = stretch.frames
        return bisect_left(
            self.timeline.tones,
            frame,
            stretch.first_cursor,
            stretch.end_cursor,
            key=lambda tone: frames.frame(tone.step),
        )


def _moved(owner: Owner | None, same: Mapping[int, int]) -> Owner | None:
    """The owner in another timeline; None where that has no such tone. Clicks stay as they are."""
    if owner is None or owner.tone < 0:
        return owner
    return owner._replace(tone=same[owner.tone]) if owner.tone in same else None
