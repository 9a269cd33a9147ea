"""A stretch: music that is played without a seam, at one tempo: a pass, or the count-in before it.

A pass that is reported when it has ended is reported too late: the next one has begun by then. So it counts a little
before its end: once its last stroke has begun, and not more than `EARLIEST` before the end. It counts `LATEST` before
its end in any case, because a stroke that short leads into the downbeat and is not what a pass fails by, and nobody who
stops there means to stop before the end: a key is not pressed that exactly (house rule, after the spread of 25 to 50 ms
in tapping and ensemble playing). Between the two lie the 20 ms that a thread sleeps and the 18 ms of the slowest commit
(tests/benchmarks/log_speed.py).
"""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate
from math import ceil
from operator import itemgetter

from trainer.music.meter import Meter
from trainer.music.tempo import TempoSpan
from trainer.playback.frame_map import FrameMap, TempoCurve, round_half_up
from trainer.playback.mix import Mix
from trainer.playback.piece import Loop
from trainer.playback.timeline import Timeline
from trainer.playback.tone import Tone

EARLIEST = Fraction(80, 1000)
"""Seconds before its end from which on a pass counts whose last stroke has begun; a sixteenth at 188 bpm."""
LATEST = Fraction(50, 1000)
"""Seconds before its end from which on it counts however many strokes are to come; a sixteenth at 300 bpm."""
NO_CLICK = (-1, Fraction(0))
"""Stands for the click of what is no click."""

_step = itemgetter(0)


@dataclass(slots=True, eq=False)
class Stretch:
    """One pass, or the count-in, and how far its events have been made."""

    number: int
    """The pass, counted from 1; 0 for the count-in."""
    began: Fraction
    """The frame, not rounded, where playing it began."""
    loop: Loop
    """The bars of the pass; of the count-in, counted from its own start."""
    frames: FrameMap
    last_step: int
    """Where the loop ends."""
    begin_at: Fraction
    """Seconds at the target tempo, on the curve of `frames`, where the loop begins."""
    end_at: Fraction
    """The same where it ends."""
    first_cursor: int = 0
    """The index of its first tone."""
    cursor: int = 0
    """The index of the next tone to make events for."""
    end_cursor: int = 0
    """The index after its last tone."""
    click_bar: int = 0
    """The next bar to make clicks for."""
    clock: int | None = None
    """The next MIDI clock to make, in 96ths of a whole note; None before the first."""
    first_clock: int = 0
    begun: set[int] = field(default_factory=set)
    """Tones whose start can no longer be taken back."""
    begun_clicks: set[tuple[int, Fraction]] = field(default_factory=set)
    """Clicks (bar, place in the bar) that can no longer be taken back."""
    steady: bool = True
    """Whether it is played from its loop's start at one tempo."""
    first_frame: int | None = None
    """Nothing sounds before this frame: where playing began in the middle of the loop."""
    mix: Mix = field(default_factory=Mix)
    heard: frozenset[int] = frozenset()
    """The voices that are heard in it; no other has events."""
    counted: bool = False
    """Whether it counts as played (`counts_at`), though it may still sound."""

    @property
    def counting_in(self) -> bool:
        """Whether it is the count-in."""
        return self.number == 0

    @property
    def share(self) -> Fraction:
        """The share of the target tempo it is played at."""
        return self.frames.share

    @property
    def start(self) -> Fraction:
        """The frame of the loop's first downbeat, not rounded; where that would be, if playing began later."""
        return self.frames.exact(self.begin_at)

    @property
    def end(self) -> Fraction:
        """The frame of the next pass's first downbeat, not rounded."""
        return self.frames.exact(self.end_at)

    @property
    def first(self) -> int:
        """The first frame that belongs to it."""
        start = round_half_up(self.start)
        return start if self.first_frame is None else max(start, self.first_frame)

    def counts_at(self, tones: Sequence[Tone]) -> int:
        """The frame from which on a pass counts as played; `tones` are those of its timeline."""
        rate, last = self.frames.rate, self.end_cursor - 1
        stroke = self.frames.frame(tones[last].step) if last >= self.first_cursor else self.first
        due = max(stroke, ceil(self.end - EARLIEST * rate))
        return max(self.first, min(due, ceil(self.end - LATEST * rate)))

    def exchange(self, old: Timeline, new: Timeline, same: Mapping[int, int]) -> None:
        """Go on in another timeline of the same bars; `same` says which tones of the old one it has, and where."""
        frames, place = self.frames, _place_of(old, self.cursor, self.end_cursor)
        self.frames = FrameMap(new.curve, frames.rate, frames.share, frames.seconds, frames.origin)
        other = pass_stretch(new, self.number, self.loop, self.frames)
        self.last_step, self.end_cursor = other.last_step, other.end_cursor
        self.first_cursor = other.first_cursor
        if self.first_frame is not None:
            frame_of = self.frames.frame
            tones, begin, end = new.tones, other.first_cursor, other.end_cursor
            self.first_cursor = bisect_left(tones, self.first_frame, begin, end, key=lambda tone: frame_of(tone.step))
        self.cursor = self.end_cursor
        if place is not None:
            step = ceil(place * new.curve.steps)
            self.cursor = bisect_left(new.tones, step, self.first_cursor, self.end_cursor, key=_step)
        self.begun = {same[index] for index in self.begun if index in same}


def _place_of(line: Timeline, cursor: int, end: int) -> Fraction | None:
    """Where the next tone starts, in whole notes from the piece's start; None after the last one."""
    return Fraction(line.tones[cursor].step, line.curve.steps) if cursor < end else None


def pass_stretch(timeline: Timeline, number: int, loop: Loop, frames: FrameMap) -> Stretch:
    """A pass through `loop`, with the map that it is to follow."""
    steps, curve, bars = timeline.bar_steps, timeline.curve, timeline.piece.bars
    first, last = steps[loop.first], steps[loop.last + 1]
    first_tone = bisect_left(timeline.tones, first, key=_step)
    return Stretch(
        number,
        frames.origin,
        loop,
        frames,
        last,
        curve.at(bars[loop.first].at),
        curve.at(bars[loop.last].end),
        first_tone,
        first_tone,
        bisect_left(timeline.tones, last, key=_step),
        loop.first,
    )


@dataclass(frozen=True, slots=True)
class CountIn:
    """The bars of a count-in, all in one meter and at one tempo."""

    meter: Meter
    bars: int
    curve: TempoCurve

    @classmethod
    def before(cls, timeline: Timeline, bar: int, bars: int) -> "CountIn":
        """The count-in to a bar, in its meter and at the tempo of its first count."""
        place, meter = timeline.piece.bars[bar].at, timeline.piece.bars[bar].meter
        slowness = timeline.curve.slowness(place)
        spans = (TempoSpan(Fraction(0), bars * meter.length, slowness, slowness),)
        return cls(meter, bars, TempoCurve(spans, timeline.curve.steps))

    @property
    def starts(self) -> tuple[Fraction, ...]:
        """Where each of its bars begins, and last where it ends, in whole notes from its start."""
        return tuple(accumulate([self.meter.length] * self.bars, initial=Fraction(0)))

    def stretch(self, rate: int, share: Fraction, start: Fraction) -> Stretch:
        """The count-in from a frame on."""
        frames = FrameMap(self.curve, rate, share, Fraction(0), start)
        length = self.curve.seconds[-1]
        return Stretch(0, start, Loop(0, self.bars - 1), frames, 0, Fraction(0), length)
