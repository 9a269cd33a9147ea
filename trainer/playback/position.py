"""Where the playing is: what a screen shows, computed from the sink's clock."""

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from trainer.playback.stretch import CountIn, Stretch
from trainer.playback.timeline import Timeline


class State(Enum):
    """What a transport is doing."""

    STOPPED = "stopped"
    COUNTING_IN = "counting in"
    PLAYING = "playing"


@dataclass(frozen=True, slots=True)
class Position:
    """A place in the piece, and how it is being played."""

    state: State
    pass_number: int
    """Counted from 1; the pass to come while counting in or stopped."""
    riff: int
    """The index of the riff in the piece."""
    bar: int
    """The index of the bar in the piece; while counting in, the bar that is counted in to."""
    riff_bar: int
    """The index of that bar in its riff."""
    offset: Fraction
    """Whole notes from the start of the bar (of the bar of the count-in)."""
    count: int
    """The count of the meter, from 1."""
    count_in_bar: int
    """The bar of the count-in, from 1; 0 when nothing is counted in."""
    tempo_bpm: Fraction
    """The tempo at this place, with the tempo marks, in bpm."""
    share: Fraction
    """The share of the target tempo."""
    began: Fraction | None = None
    """The frame, not rounded, where the pass that plays began, as in its report; None when none plays."""


def place_at(  # noqa: PLR0917  # a value's fields
    timeline: Timeline,
    bar: int,
    seconds: Fraction,
    share: Fraction,
    number: int,
    state: State,
    began: Fraction | None = None,
) -> Position:
    """The position at `seconds` (at the target tempo) into the piece, which lie in the bar with index `bar`."""
    where = timeline.piece.bars[bar]
    place = min(max(where.at, timeline.curve.place(seconds)), where.end)
    offset = place - where.at
    pulses = 60 / (timeline.curve.slowness(place) * where.meter.pulse)
    count = min(where.meter.counts, 1 + int(offset / where.meter.count_length))
    return Position(state, number, where.riff, bar, where.number, offset, count, 0, pulses * share, share, began)


def count_in_at(  # noqa: PLR0917  # as above
    timeline: Timeline, bar: int, count_in: CountIn, stretch: Stretch, frame: int, number: int
) -> Position:
    """The position at a frame of the count-in to the bar with index `bar`."""
    where = timeline.piece.bars[bar]
    seconds = min(max(Fraction(0), stretch.frames.seconds_at(frame)), stretch.end_at)
    place = count_in.curve.place(seconds)
    counted = min(count_in.bars - 1, int(place / count_in.meter.length))
    offset = place - count_in.starts[counted]
    count = min(count_in.meter.counts, 1 + int(offset / count_in.meter.count_length))
    pulses = 60 / (count_in.curve.slowness(Fraction(0)) * count_in.meter.pulse)
    return Position(
        State.COUNTING_IN,
        number,
        where.riff,
        bar,
        where.number,
        offset,
        count,
        counted + 1,
        pulses * stretch.share,
        stretch.share,
    )
