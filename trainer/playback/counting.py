"""When a pass counts as played: a little before its end, so that it can be kept before the next one sounds.

A pass that is told of when it has ended is told of too late: the next one has begun by then. So it counts once its last
stroke has begun, and not more than `EARLIEST` before its end. It counts `LATEST` before its end in any case, for a
stroke that short leads into the downbeat and is not what a pass fails by, and nobody who stops there means to have
stopped before the end: a key is not pressed that exactly (house rule, after the spread of 25 to 50 ms that tapping and
ensemble playing have). Between the two lie the 20 ms that a thread sleeps and the 18 ms that the slowest commit took
(tests/benchmarks/log_speed.py).
"""

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from trainer.playback.stretch import Stretch
from trainer.playback.tone import Tone

EARLIEST = Fraction(80, 1000)
"""Seconds before its end from which on a pass counts whose last stroke has begun; a sixteenth at 188 bpm."""
LATEST = Fraction(50, 1000)
"""Seconds before its end from which on it counts however many strokes are to come; a sixteenth at 300 bpm."""


def counts_at(stretch: Stretch, tones: Sequence[Tone], rate: int) -> int:
    """The frame from which on a pass counts as played.

    Args:
        stretch: the pass.
        tones: of the timeline that it is made from.
        rate: frames a second.
    """
    last = stretch.end_cursor - 1
    stroke = stretch.frames.frame(tones[last].step) if last >= stretch.first_cursor else stretch.first
    due = max(stroke, ceil(stretch.end - EARLIEST * rate))
    return max(stretch.first, min(due, ceil(stretch.end - LATEST * rate)))
