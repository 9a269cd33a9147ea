"""A take laid over the written part: what became of every stroke, and what was played besides.

The same value comes from audio and from MIDI; statistics, verdict, pictures and duo read it. Deviations are in
milliseconds, early below zero, from where the stroke is written at the tempo of the click. Where the take's constant
offset is not known by calibration, their median is taken out and `start_known` says so.
"""

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from statistics import median

from trainer.listening.hearing import Hearing
from trainer.listening.written import WrittenPart, WrittenStroke

LEAST_CUT = 4
"""So many strokes missing at the beginning or end were not come to; fewer were missed."""
LEAST_SILENT = 3
"""A bar of fewer strokes than this that is silent was missed, not left out."""
OCTAVES = (-12, 12)
"""A single stroke an octave off is not told in sound: under drive the even partials win over the odd ones, which is
all that parts a note from its octave."""
EDGE_S = 0.06
"""What is played farther outside the pass belongs to what came before or after it."""


@dataclass(frozen=True, slots=True)
class PlayedStroke:
    """A written stroke and what became of it."""

    stroke: WrittenStroke
    at_s: float | None = None
    """Seconds of the take; None when it was missed."""
    deviation_ms: float | None = None
    """Early below zero; None when it was missed."""
    shift: int | None = 0
    """Semitones from the written pitch to the one played; None when the sound does not tell."""
    strum_ms: float | None = None
    """From a chord's first string to its last; None where it was not told."""
    missing: tuple[int, ...] = ()
    """Pitches of a chord that were not played, where single strings can be told apart (MIDI)."""
    cents: float | None = None
    """How far a bent note went above its written pitch, in cents; shown, never graded."""
    strum_within_ms: tuple[float, float] | None = None
    """For a sound, the interval in which four of five such strums lie; None for MIDI, which is exact."""

    @property
    def missed(self) -> bool:
        """Whether it was not played at all."""
        return self.deviation_ms is None

    @property
    def wrong(self) -> bool:
        """Whether it was played, surely, at another pitch."""
        return not self.missed and (bool(self.shift) or bool(self.missing))


@dataclass(frozen=True, slots=True)
class Extra:
    """A note that nobody wrote."""

    at_s: float
    """Seconds of the take."""
    pitch: int
    """MIDI note number, most likely."""
    near: WrittenStroke
    """The written stroke next to it."""
    doubled: bool = False
    """It repeats the pitch of the stroke it follows."""
    strength: float = 1.0
    """Onset strength over that of a typical stroke; the least that is reported is 0.29, of a sure double 0.1."""
    twice: bool = False
    """Whether the sound surely began anew there, at the pitch of the stroke before it."""
    certain: bool = False
    """True for MIDI; a sound is a possible extra only."""


@dataclass(frozen=True, slots=True)
class Performance:
    """A take laid over the written part."""

    written: WrittenPart
    strokes: tuple[PlayedStroke, ...]
    """One for each written stroke."""
    extras: tuple[Extra, ...]
    start_s: float
    """Second of the take at which the written part begins."""
    start_known: bool
    """Whether that is known by calibration; if not, no common earliness or lateness can be told."""
    rate: float = 1.0
    """Seconds of the take for each written second, as found before the drift was followed."""

    clarity: float = 1.0
    """How clearly the matched sounds hold notes at all: about 0.2 for noise, 1 and more for a guitar."""
    blur_ms: float = 0.0
    """How far the attacks' beginnings are a matter of taste, and so what is early or late as a whole."""

    @property
    def heard_bars(self) -> frozenset[int]:
        """Bars of which at least one stroke was heard, and bars of too few strokes to say that they were left out."""
        strokes = Counter(item.stroke.bar for item in self.strokes)
        heard = Counter(item.stroke.bar for item in self.strokes if not item.missed)
        return frozenset(bar for bar, count in strokes.items() if heard[bar] or count < LEAST_SILENT)

    @property
    def judged(self) -> tuple[PlayedStroke, ...]:
        """The strokes that the player came to: a pass may start late, stop early or leave bars out."""
        heard = [index for index, item in enumerate(self.strokes) if not item.missed]
        if not heard:
            return ()
        first = heard[0] if heard[0] >= LEAST_CUT else 0
        last = heard[-1] + 1 if len(self.strokes) - heard[-1] > LEAST_CUT else len(self.strokes)
        bars = self.heard_bars
        return tuple(item for item in self.strokes[first:last] if item.stroke.bar in bars)

    @property
    def alone(self) -> "Performance":
        """Without the extra notes from before the pass and after it: players try a string first, and go on playing."""
        last = float(self.written.length) * self.rate - EDGE_S
        extras = tuple(item for item in self.extras if -EDGE_S <= item.at_s - self.start_s <= last)
        return replace(self, extras=extras)

    @property
    def followed(self) -> float:
        """Share of the judged strokes that were matched, 0 to 1."""
        judged = self.judged
        return sum(not item.missed for item in judged) / len(judged) if judged else 0.0

    @property
    def agreed(self) -> float:
        """Share of the matched strokes of known pitch that sound as written, 0 to 1; 1 where no pitch is known."""
        told = [item for item in self.strokes if not item.missed and item.shift is not None]
        return sum(not item.shift for item in told) / len(told) if told else 1.0


def performed(hearing: Hearing, written: WrittenPart, start_s: float | None = None) -> Performance:
    """What was heard in an audio take, laid over the written part.

    Args:
        hearing: from `hear`.
        written: the same part.
        start_s: second of the take at which the part begins by calibration; None when it is not known.
    """
    offsets = [
        heard.at_s - float(stroke.at)
        for heard, stroke in zip(hearing.strokes, written.strokes, strict=True)
        if heard is not None
    ]
    start = start_s if start_s is not None else (median(offsets) if offsets else hearing.alignment.start_s)
    unsure = {octave for octave in OCTAVES if not _usual(octave, hearing)}
    strokes = tuple(
        PlayedStroke(stroke, shift=None)
        if heard is None
        else PlayedStroke(
            stroke,
            heard.at_s,
            (heard.at_s - start - float(stroke.at)) * 1000,
            None if stroke.bent or stroke.dead or heard.shift in unsure else heard.shift,
            strum_ms=None if heard.strum is None else heard.strum.ms,
            cents=heard.cents,
            strum_within_ms=None if heard.strum is None else (heard.strum.low_ms, heard.strum.high_ms),
        )
        for heard, stroke in zip(hearing.strokes, written.strokes, strict=True)
    )
    extras = tuple(
        Extra(
            extra.at_s,
            extra.pitch,
            near,
            doubled=extra.pitch in near.pitches,
            strength=extra.strength,
            twice=extra.twice,
        )
        for extra in hearing.extras
        for near in [nearest(written, extra.at_s - start)]
    )
    return Performance(
        written,
        strokes,
        extras,
        start,
        start_s is not None,
        hearing.alignment.rate,
        _clarity(hearing, written),
        hearing.blur_ms,
    )


def _usual(shift: int, hearing: Hearing) -> bool:
    """Whether most of the strokes are off by the same: then it is the instrument, not a slip."""
    heard = [item for item in hearing.strokes if item is not None]
    return 2 * sum(item.shift == shift for item in heard) > len(heard)


def _clarity(hearing: Hearing, written: WrittenPart) -> float:
    """Median salience of the matched strokes that have a pitch; 1 where none has."""
    pitched = [
        heard.salience
        for heard, stroke in zip(hearing.strokes, written.strokes, strict=True)
        if heard and stroke.pitches
    ]
    return median(pitched) if pitched else 1.0


def nearest(written: WrittenPart, at_s: float | Fraction) -> WrittenStroke:
    """The last written stroke at or before a time from the start of the pass, or the first of all."""
    before = [stroke for stroke in written.strokes if stroke.at <= at_s]
    return before[-1] if before else written.strokes[0]
