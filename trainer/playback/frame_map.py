"""From places in the music to frames: exact, each rounded once, at any tempo.

A `TempoCurve` tells how many seconds after its start every step of a piece comes at the target tempo. A `FrameMap` is
one straight line from those seconds to frames: what one pass at one tempo needs. Inside each span of the tempo map
the whole way is a polynomial with whole coefficients over a whole divisor, so a place costs one multiplication and
one division.
"""

from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from math import isqrt, lcm

from trainer.music.tempo import TempoSpan

_FINE = 1 << 40


@dataclass(frozen=True, slots=True)
class TempoCurve:
    """The tempos of a piece on a grid of whole steps."""

    spans: tuple[TempoSpan, ...]
    """Without gaps, from the piece's start."""
    steps: int
    """Steps in a whole note; every span begins on one."""
    starts: tuple[int, ...] = field(init=False)
    """Where each span begins, in steps."""
    seconds: tuple[Fraction, ...] = field(init=False)
    """When each span begins at the target tempo, and last when the piece ends."""

    def __post_init__(self) -> None:
        starts = tuple(int(span.at * self.steps) for span in self.spans)
        seconds = [Fraction(0)]
        for span in self.spans:
            seconds.append(seconds[-1] + span.seconds)
        object.__setattr__(self, "starts", starts)
        object.__setattr__(self, "seconds", tuple(seconds))

    def span(self, step: int) -> int:
        """The index of the span that a step lies in; the last one for the piece's end."""
        return max(0, bisect_right(self.starts, step) - 1)

    def at(self, place: Fraction) -> Fraction:
        """Seconds from the piece's start to a place in whole notes, at the target tempo."""
        i = max(0, bisect_right(self.spans, place, key=lambda span: span.at) - 1)
        return self.seconds[i] + self.spans[i].seconds_to(place - self.spans[i].at)

    def slowness(self, place: Fraction) -> Fraction:
        """Seconds that a whole note takes at a place, at the target tempo."""
        i = max(0, bisect_right(self.spans, place, key=lambda span: span.at) - 1)
        span = self.spans[i]
        return span.slow_from + (span.slow_to - span.slow_from) * (place - span.at) / span.length

    def place(self, seconds: Fraction) -> Fraction:
        """The place that is reached after `seconds` at the target tempo.

        Exact where the tempo is constant; within 2**-40 of a whole note where it changes gradually.
        """
        i = min(max(0, bisect_right(self.seconds, seconds) - 1), len(self.spans) - 1)
        span, rest = self.spans[i], seconds - self.seconds[i]
        rise = span.slow_to - span.slow_from
        if not rise:
            return span.at + rest / span.slow_from
        curve = rise / (2 * span.length)
        inside = span.slow_from * span.slow_from + 4 * curve * rest
        root = Fraction(isqrt(max(0, inside.numerator * _FINE * _FINE // inside.denominator)), _FINE)
        return span.at + 2 * rest / (span.slow_from + root)


@dataclass(frozen=True, slots=True)
class _Line:
    """(`constant` + `linear` * d + `square` * d * d) // `divisor` is the frame of the step `d` after a span's start."""

    constant: int
    linear: int
    square: int
    divisor: int


class FrameMap:
    """The frames of one pass at one tempo."""

    def __init__(self, curve: TempoCurve, rate: int, share: Fraction, seconds: Fraction, frame: Fraction) -> None:
        """The map that puts the place `seconds` into the piece (at the target tempo) on `frame`.

        Args:
            curve: the tempos of the piece.
            rate: frames a second.
            share: the share of the target tempo.
            seconds: a place, in seconds at the target tempo.
            frame: its frame, not rounded.
        """
        self.curve = curve
        self.rate = rate
        self.share = share
        self.seconds = seconds
        self.origin = frame
        self.stretch = rate / share
        """Frames for a second at the target tempo."""
        self._lines: dict[int, _Line] = {}

    def exact(self, seconds: Fraction) -> Fraction:
        """The frame, not rounded, of a place given in seconds at the target tempo."""
        return self.origin + (seconds - self.seconds) * self.stretch

    def frame(self, step: int) -> int:
        """The frame of a step of the curve's grid, rounded once (halves upward)."""
        starts = self.curve.starts
        i = bisect_right(starts, step) - 1 if len(starts) > 1 else 0
        i = max(i, 0)
        line = self._lines.get(i) or self._line(i)
        d = step - starts[i]
        if line.square:
            return (line.constant + (line.linear + line.square * d) * d) // line.divisor
        return (line.constant + line.linear * d) // line.divisor

    def frame_at(self, place: Fraction) -> int:
        """The frame of any place in whole notes, rounded once (halves upward)."""
        return round_half_up(self.exact(self.curve.at(place)))

    def frame_of(self, seconds: Fraction) -> int:
        """The frame, rounded, of a place given in seconds at the target tempo."""
        return round_half_up(self.exact(seconds))

    def seconds_at(self, frame: int) -> Fraction:
        """The place that a frame falls on, in seconds at the target tempo."""
        return self.seconds + (frame - self.origin) * self.share / self.rate

    def rescaled(self, frame: int, share: Fraction) -> "FrameMap":
        """The map that plays on from `frame` at another share, without a jump; from its own origin if that is later.

        The place is rounded to 2**-40 of a second, so that numbers stay small however often the tempo changes.
        """
        if frame <= self.origin:
            return FrameMap(self.curve, self.rate, share, self.seconds, self.origin)
        seconds = Fraction(round(self.seconds_at(frame) * _FINE), _FINE)
        return FrameMap(self.curve, self.rate, share, seconds, Fraction(frame))

    def _line(self, i: int) -> _Line:
        span, steps = self.curve.spans[i], self.curve.steps
        begin = self.exact(self.curve.seconds[i]) + Fraction(1, 2)
        linear = span.slow_from * self.stretch / steps
        square = (span.slow_to - span.slow_from) * self.stretch / (2 * span.length * steps * steps)
        divisor = lcm(begin.denominator, linear.denominator, square.denominator)
        line = _Line(int(begin * divisor), int(linear * divisor), int(square * divisor), divisor)
        self._lines[i] = line
        return line


def round_half_up(value: Fraction) -> int:
    """The nearest whole number; halves upward."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
