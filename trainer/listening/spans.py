"""What a take over several riffs must hold: each riff's bars at its own tempo, all at one share of their targets.

Where more than one riff is played, bars are counted through the whole piece, as its loop counts them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from trainer.listening.expected import written_part
from trainer.listening.written import Stroke, Written
from trainer.music.riff import Riff
from trainer.music.tempo import TempoSpan


@dataclass(frozen=True, slots=True)
class Span:
    """Some bars of one riff."""

    riff: Riff
    first: int
    """The first bar, counted from 1 in the riff."""
    last: int
    """The last bar, included."""

    @property
    def bars(self) -> int:
        """How many bars it has."""
        return self.last - self.first + 1

    @property
    def length(self) -> Fraction:
        """In whole notes."""
        starts = self.riff.bar_starts
        return starts[self.last] - starts[self.first - 1]

    def bar_seconds(self, share: Fraction) -> tuple[Fraction, ...]:
        """How long each bar lasts, at a share of the riff's target tempo, its tempo marks in proportion."""
        edges = self.riff.bar_starts[self.first - 1 : self.last + 1]
        tempos = self.riff.tempo_map
        at = [seconds_to(tempos, place) / share for place in edges]
        return tuple(end - begin for begin, end in pairwise(at))


def spans_of(bars: Iterable[tuple[int, Riff, int]]) -> tuple[Span, ...]:
    """Bars in the order in which they are played, riff by riff.

    Args:
        bars: of each which riff of the piece it is in, that riff, and its number there, from 1.
    """
    turns = (tuple(turn) for _, turn in groupby(bars, key=lambda bar: bar[0]))
    return tuple(Span(turn[0][1], turn[0][2], turn[-1][2]) for turn in turns)


def seconds_to(tempos: Sequence[TempoSpan], place: Fraction) -> Fraction:
    """Seconds from a riff's start to a place in it, in whole notes, at its target tempo; 0 before it."""
    total = Fraction(0)
    for span in tempos:
        if place <= span.at:
            break
        total += span.seconds if place >= span.at + span.length else span.seconds_to(place - span.at)
    return total


def bar_ends(spans: Sequence[Span], share: Fraction) -> tuple[Fraction, ...]:
    """Seconds from the start of the pass to the end of each of its bars."""
    return tuple(accumulate(seconds for span in spans for seconds in span.bar_seconds(share)))


def written_spans(spans: Sequence[Span], part: str, share: Fraction, first_bar: int = 1) -> Written:
    """What one pass over some riffs must hold of a part; riffs in which it does not play are rests.

    Args:
        spans: the bars, in the order in which they are played; their harmonies computed.
        part: the part's name.
        share: of every riff's target tempo.
        first_bar: the number of the first bar, where there is more than one span.

    Raises:
        ValueError: when the part plays in none of them, or the bars do not exist.
    """
    if len(spans) == 1:
        (span,) = spans
        return written_part(span.riff, part, share * span.riff.tempo.target, (span.first, span.last))
    strokes: list[Stroke] = []
    others: dict[str, list[Stroke]] = {}
    first: Written | None = None
    at, place, bar, trouble = Fraction(0), Fraction(0), first_bar, ""
    for span in spans:
        try:
            own = written_part(span.riff, part, share * span.riff.tempo.target, (span.first, span.last))
        except ValueError as error:
            trouble = trouble or str(error)
        else:
            first = first or own
            moved = _Moved(at, place, bar - span.first)
            strokes += moved.all(own.strokes)
            for name, theirs in own.others:
                others.setdefault(name, []).extend(moved.all(theirs))
        at += sum(span.bar_seconds(share), Fraction(0))
        place += span.length
        bar += span.bars
    if first is None:
        raise ValueError(trouble)
    every = tuple((name, tuple(found)) for name, found in others.items())
    tempo_bpm = float(share * spans[0].riff.tempo.target)
    return replace(first, strokes=tuple(strokes), length=at, tempo_bpm=tempo_bpm, others=every)


@dataclass(frozen=True, slots=True)
class _Moved:
    """How far a riff's strokes are moved to where the riff stands in the pass."""

    seconds: Fraction
    place: Fraction
    bars: int

    def all(self, strokes: Sequence[Stroke]) -> list[Stroke]:
        return [
            replace(
                stroke, at=stroke.at + self.seconds, offset=stroke.offset + self.place, bar=stroke.bar + self.bars
            )
            for stroke in strokes
        ]  # fmt: skip


def first_bars(written: Written, ends: Sequence[Fraction], bars: int) -> Written | None:
    """The first bars of a pass, for one that was broken off; None where nothing is played in them.

    Args:
        written: the whole pass.
        ends: where its bars end, in seconds.
        bars: how many of them.
    """
    if bars < 1:
        return None
    end = ends[bars - 1]
    strokes = tuple(
        replace(stroke, length=min(stroke.length, end - stroke.at)) for stroke in written.strokes if stroke.at < end
    )
    others = tuple((name, tuple(each for each in theirs if each.at < end)) for name, theirs in written.others)
    return replace(written, strokes=strokes, length=end, others=others) if strokes else None
