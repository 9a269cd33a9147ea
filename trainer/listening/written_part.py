"""From riffs to the strokes that a take of one part must hold: some bars of one riff, or of several one after another.

Positions and strokes are taken as written; where nobody wrote the stroke, it is down on even grid places and up on odd
ones (house rule, see the sources). Harmonies must have been computed before (`arranging.realise`). Where more than one
riff is played, each keeps its own tempo, all at one share of their targets, and bars are counted through the whole
piece, as its loop counts them.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from trainer.listening.written import GallopNote, WrittenPart, WrittenStroke
from trainer.music.meter import Meter
from trainer.music.note import Attack, Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote, sounding
from trainer.music.tempo import TempoSpan

SHIFT_FRETS = 3
"""The hand has moved when its lowest fretted note lies farther than this from the last one's."""
GRID = Fraction(1, 16)
COUNTS = {Fraction(1, 4): "e", Fraction(1, 2): "&", Fraction(3, 4): "a", Fraction(1, 3): "la", Fraction(2, 3): "li"}
"""What is said between two counts."""
_HALF, _QUARTER, _SIXTH = Fraction(1, 2), Fraction(1, 4), Fraction(1, 6)
_STRAIGHT = (GallopNote.LONG, GallopNote.FIRST_SHORT, GallopNote.SECOND_SHORT)
_TRIPLET = (GallopNote.TRIPLET_LONG, GallopNote.TRIPLET_FIRST, GallopNote.TRIPLET_SECOND)
GALLOPS = {
    (_HALF, _QUARTER, _QUARTER): _STRAIGHT,
    (_QUARTER, _QUARTER, _HALF): (*_STRAIGHT[1:], _STRAIGHT[0]),
    (4 * _SIXTH, _SIXTH, _SIXTH): _TRIPLET,
    (_SIXTH, _SIXTH, 4 * _SIXTH): (*_TRIPLET[1:], _TRIPLET[0]),
}
"""The figures by the lengths of their three strokes in pulses, on a pulse."""


def written_part(
    riff: Riff, part: str, tempo_bpm: Fraction, bars: tuple[int, int] | None = None, passes: int = 1
) -> WrittenPart:
    """What a take of one part must hold.

    Args:
        riff: with its harmonies computed.
        part: the part's name.
        tempo_bpm: the riff's tempo at its start; tempo marks keep their proportion to the target.
        bars: first and last bar of the loop, from 1; None for the whole riff.
        passes: times through the loop without a break.

    Raises:
        ValueError: when the riff has no such part on strings, the bars do not exist, or nothing is played in them.
    """
    chosen = riff.part(part)
    if not isinstance(chosen, TabPart):
        raise ValueError(f"There is no part on strings called {part!r} in {riff.name!r}.")
    first, last = bars or (1, len(riff.meters))
    if not 1 <= first <= last <= len(riff.meters):
        raise ValueError(f"{riff.name!r} has no bars {first} to {last}.")
    clock = _Clock(riff, tempo_bpm, first, last)
    strokes = tuple(_strokes(chosen, riff, clock))
    if not strokes:
        raise ValueError(f"Nothing is played by {part!r} in these bars.")
    others = tuple((tab.name, tuple(_strokes(tab, riff, clock))) for tab in riff.tabs if tab.name != part)
    opens = tuple(chosen.instrument.open_midi(string) for string in range(1, chosen.instrument.strings + 1))
    written = WrittenPart(strokes, clock.seconds(clock.end), float(tempo_bpm), others, opens)
    return written if passes == 1 else written.repeated(passes)


class _Clock:
    """Seconds from the start of the loop for places in the riff."""

    def __init__(self, riff: Riff, tempo_bpm: Fraction, first: int, last: int) -> None:
        self.starts, self._tempos = riff.bar_starts, riff.tempo_map  # found anew whenever a riff is asked
        self.begin, self.end = self.starts[first - 1], self.starts[last]
        self._ratio = riff.tempo.target / tempo_bpm
        self._origin = self._from_riff(self.begin)

    def _from_riff(self, place: Fraction) -> Fraction:
        total = Fraction(0)
        for span in self._tempos:
            if place >= span.at + span.length:
                total += span.seconds
            elif place > span.at:
                total += span.seconds_to(place - span.at)
        return total

    def seconds(self, place: Fraction) -> Fraction:
        """Seconds from the loop's start to a place in whole notes from the riff's start."""
        return (self._from_riff(place) - self._origin) * self._ratio


def _strokes(part: TabPart, riff: Riff, clock: _Clock) -> Iterable[WrittenStroke]:
    """The strokes of one part inside the loop, in time order; notes that start together are one."""
    chords: dict[Fraction, list[SoundingNote]] = {}
    for note in sounding(part, clock.starts):
        if clock.begin <= note.at < clock.end:
            chords.setdefault(note.at, []).append(note)
    figures = _figures(sorted(chords), riff)
    before: list[SoundingNote] | None = None
    for place in sorted(chords):
        chord = sorted(chords[place], key=lambda note: note.midi)
        yield _stroke(chord, before, riff, clock, figures.get(place, GallopNote.NONE))
        before = chord


def _stroke(
    chord: list[SoundingNote], before: list[SoundingNote] | None, riff: Riff, clock: _Clock, figure: GallopNote
) -> WrittenStroke:
    """Notes that start together as one stroke; `before` is the stroke before it."""
    place = chord[0].at
    moment, bar = chord[0].moment, chord[0].bar
    dead = all(item.note.touch is Touch.DEAD for item in chord)
    strings = tuple(item.note.string for item in chord)
    frets = [item.note.fret for item in chord if item.note.fret and item.note.touch is Touch.FRETTED]
    last = [item.note.fret for item in before or () if item.note.fret and item.note.touch is Touch.FRETTED]
    offset = place - clock.starts[bar]
    pick = {"d": "down", "u": "up"}.get(moment.pick, "") or ("down" if (offset / GRID) % 2 == 0 else "up")
    slurred = all(item.note.attack is not Attack.PICK for item in chord)
    end = min(max(item.end for item in chord), clock.end)
    return WrittenStroke(
        at=clock.seconds(place),
        length=clock.seconds(end) - clock.seconds(place),
        pitches=() if dead else tuple(dict.fromkeys(i.midi for i in chord if i.note.touch is not Touch.DEAD)),
        bar=bar + 1,
        count=count_name(offset, riff.meters[bar]),
        slurred=slurred,
        pick="" if slurred else pick,
        figure=figure,
        strings=strings,
        muted=moment.mute,
        dead=dead,
        bent=any(item.note.bend is not None for item in chord),
        string_change=before is not None and not set(strings) & {item.note.string for item in before},
        shift=bool(frets and last and abs(min(frets) - min(last)) > SHIFT_FRETS),
        offset=place - clock.begin,
    )


def count_name(offset: Fraction, meter: Meter) -> str:
    """How a place in a bar is counted aloud: `3`, `2 &`, `4 a`."""
    whole, rest = divmod(offset, meter.count_length)
    part = rest / meter.count_length
    if not part:
        return str(whole + 1)
    name = COUNTS.get(part)
    if name is None:
        name = next((said for at, said in sorted(COUNTS.items(), reverse=True) if at < part), "")
        name = f"{name} ." if name else "."
    return f"{whole + 1} {name}"


def _figures(places: list[Fraction], riff: Riff) -> dict[Fraction, GallopNote]:
    """Where each stroke stands in a gallop of `GALLOPS`, for the pulses that hold one."""
    found: dict[Fraction, GallopNote] = {}
    known = set(places)
    starts = riff.bar_starts
    for meter, start, end in zip(riff.meters, starts, starts[1:], strict=False):
        pulse, length = start, meter.pulse
        while pulse + length <= end:
            if pulse in known:
                inside = places[bisect_left(places, pulse) : bisect_left(places, pulse + length)]
                edges = [*inside, pulse + length]
                lengths = tuple((b - a) / length for a, b in pairwise(edges))
                if len(lengths) == 3 and lengths in GALLOPS:
                    found.update(zip(inside, GALLOPS[lengths], strict=True))
            pulse += length
    return found


@dataclass(frozen=True, slots=True)
class RiffBars:
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


def riff_bars(bars: Iterable[tuple[int, Riff, int]]) -> tuple[RiffBars, ...]:
    """Bars in the order in which they are played, riff by riff.

    Args:
        bars: of each which riff of the piece it is in, that riff, and its number there, from 1.
    """
    turns = (tuple(turn) for _, turn in groupby(bars, key=lambda bar: bar[0]))
    return tuple(RiffBars(turn[0][1], turn[0][2], turn[-1][2]) for turn in turns)


def seconds_to(tempos: Sequence[TempoSpan], place: Fraction) -> Fraction:
    """Seconds from a riff's start to a place in it, in whole notes, at its target tempo; 0 before it."""
    total = Fraction(0)
    for span in tempos:
        if place <= span.at:
            break
        total += span.seconds if place >= span.at + span.length else span.seconds_to(place - span.at)
    return total


def bar_ends(spans: Sequence[RiffBars], share: Fraction) -> tuple[Fraction, ...]:
    """Seconds from the start of the pass to the end of each of its bars."""
    return tuple(accumulate(seconds for span in spans for seconds in span.bar_seconds(share)))


def written_pass(spans: Sequence[RiffBars], part: str, share: Fraction, first_bar: int = 1) -> WrittenPart:
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
    strokes: list[WrittenStroke] = []
    others: dict[str, list[WrittenStroke]] = {}
    first: WrittenPart | None = None
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

    def all(self, strokes: Sequence[WrittenStroke]) -> list[WrittenStroke]:
        return [
            replace(
                stroke, at=stroke.at + self.seconds, offset=stroke.offset + self.place, bar=stroke.bar + self.bars
            )
            for stroke in strokes
        ]  # fmt: skip


def first_bars(written: WrittenPart, ends: Sequence[Fraction], bars: int) -> WrittenPart | None:
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
