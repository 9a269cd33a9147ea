"""Two takes compared with each other: who leads, how tightly, and what became of the interval between them.

Both are laid over their own parts of one riff and share one clock: two sides of a stereo file, or two takes of which
both starts are known. Strokes that are written together are compared; the lead is how much earlier the first take's
is. How much a player follows the other (the correction gain of Wing et al. 2014) is estimated by how much the other's
last deviation tells of the player's next one, beside the player's own last one: two players who both follow a click
and not each other come out at nought.
"""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from trainer.listening.estimate import Estimate, centre, middle, quantile, robust_spread
from trainer.listening.performance import Performance, PlayedStroke
from trainer.listening.sound import Floats
from trainer.listening.wording import capital, counted

LEAST_PAIRS = 4
LEAST_IN_BAR = 3
LEAST_FOLLOWED = 12
"""Pairs from which on it can be told who follows whom."""
LEAST_GAIN = 0.1
"""A player who makes good less than this share of a difference is not said to follow."""
NOTICED_MS = 6.0
"""A lead that is not noticed is none (Friberg & Sundberg 1995)."""
LEAST_SPREAD_MS = 1.0
TIGHT_MS = 19.0
"""Spread that listeners still prefer (Hofmann et al. 2017)."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two strokes written at one time."""

    first: PlayedStroke
    second: PlayedStroke
    lead_ms: float
    """How much earlier the first was; below zero the second leads."""


@dataclass(frozen=True, slots=True)
class BarTogether:
    """How two players kept together over one bar."""

    bar: int
    lead: Estimate
    """Milliseconds by which the first leads."""
    spread_ms: float

    @property
    def lead_ms(self) -> float:
        """The lead without its interval."""
        return self.lead.value

    @property
    def leader(self) -> str:
        """`first`, `second`, or `together` where no lead is sure to be noticed."""
        if not self.lead.beyond(NOTICED_MS):
            return "together"
        return "first" if self.lead.value > 0 else "second"


@dataclass(frozen=True, slots=True)
class WrongInterval:
    """An interval that came out as another."""

    bar: int
    count: str
    written: int
    """Semitones from the first guitar's pitch up to the second's."""
    played: int


@dataclass(frozen=True, slots=True)
class Duo:
    """Two takes compared."""

    pairs: tuple[Pair, ...]
    lead: Estimate
    """Milliseconds by which the first leads."""
    lead_known: bool
    """Whether both starts are known or shared; if not, the mean lead is unknown and taken out."""
    spread_ms: float
    correction: tuple[Estimate, Estimate]
    """Share of the last difference that the first and the second player make good in the next stroke, 0 to 1."""
    bars: tuple[BarTogether, ...]
    intervals: tuple[WrongInterval, ...]

    @property
    def tightest(self) -> BarTogether | None:
        """The bar in which they were most together."""
        return min(self.bars, key=lambda bar: bar.spread_ms, default=None)

    @property
    def loosest(self) -> BarTogether | None:
        """The bar in which they were least together."""
        return max(self.bars, key=lambda bar: bar.spread_ms, default=None)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What a listener would say, most important first."""
        return tuple(_sentences(self))


def compare(first: Performance, second: Performance, *, shared_clock: bool = True) -> Duo | None:
    """Compare two takes of one riff; None with fewer than four strokes played by both.

    Args:
        first: one guitarist's take laid over the part.
        second: the other's.
        shared_clock: whether both were recorded together, as the sides of one file are; then the lead is known even
            where the start is not.
    """
    others = {item.stroke.offset: item for item in second.strokes if not item.missed}
    matched = [(item, others[item.stroke.offset]) for item in first.strokes if item.stroke.offset in others]
    both = [(a, b) for a, b in matched if not a.missed]
    if len(both) < LEAST_PAIRS:
        return None
    shift = _clock_shift(first, second, shared_clock=shared_clock)
    pairs = tuple(Pair(a, b, (b.deviation_ms or 0.0) - (a.deviation_ms or 0.0) + shift) for a, b in both)
    leads = [pair.lead_ms for pair in pairs]
    known = shared_clock or (first.start_known and second.start_known)
    if not known:
        off = centre(leads)
        pairs = tuple(Pair(pair.first, pair.second, pair.lead_ms - off) for pair in pairs)
        leads = [pair.lead_ms for pair in pairs]
    spread = max(robust_spread(leads), LEAST_SPREAD_MS)
    return Duo(
        pairs,
        middle(leads, spread),
        known,
        spread,
        _correction(pairs),
        tuple(_bars(pairs)),
        tuple(_intervals(pairs)),
    )


def _clock_shift(first: Performance, second: Performance, *, shared_clock: bool) -> float:
    """Milliseconds to add to differences of deviations so that both count from one start."""
    return (second.start_s - first.start_s) * 1000 if shared_clock else 0.0


def _correction(pairs: tuple[Pair, ...]) -> tuple[Estimate, Estimate]:
    """How much each player follows the other; what drifts slowly is taken out of both first."""
    if len(pairs) < LEAST_FOLLOWED:
        unknown = Estimate(0.0, -inf, inf, len(pairs))
        return unknown, unknown
    number = np.arange(len(pairs), dtype=float)
    off = [
        np.array([getattr(pair, who).deviation_ms or 0.0 for pair in pairs]) for who in ("first", "second")
    ]  # fmt: skip
    first, second = (values - np.polyval(np.polyfit(number, values, 1), number) for values in off)
    return _gain(first, second), _gain(second, first)


def _gain(own: Floats, other: Floats) -> Estimate:
    """By how much the other's last deviation moves the next one of one's own: least squares, with its interval."""
    last = np.stack([own[:-1], other[:-1]], axis=1)
    inverse = np.linalg.pinv(last.T @ last)
    weights = inverse @ last.T @ own[1:]
    left = own[1:] - last @ weights
    free = len(left) - 3
    half = quantile(0.95, free) * sqrt(max(0.0, float(left @ left) / free * float(inverse[1, 1])))
    value = float(weights[1])
    return Estimate(max(0.0, min(1.0, value)), value - half, value + half, len(left))


def _bars(pairs: tuple[Pair, ...]) -> list[BarTogether]:
    """The bars that hold enough strokes, each lead's interval from the scatter inside all of them."""
    leads: dict[int, list[float]] = {}
    for pair in pairs:
        leads.setdefault(pair.first.stroke.bar, []).append(pair.lead_ms)
    told = {bar: own for bar, own in sorted(leads.items()) if len(own) >= LEAST_IN_BAR}
    inside = [lead - centre(own) for own in told.values() for lead in own]
    noise = max(robust_spread(inside), LEAST_SPREAD_MS)
    return [BarTogether(bar, middle(own, noise), robust_spread(own)) for bar, own in told.items()]


def _intervals(pairs: tuple[Pair, ...]) -> list[WrongInterval]:
    """Intervals between the top notes that came out otherwise, where both pitches are known."""
    found = []
    for pair in pairs:
        a, b = pair.first, pair.second
        if not (a.stroke.pitches and b.stroke.pitches) or a.shift is None or b.shift is None:
            continue
        written = b.stroke.pitches[-1] - a.stroke.pitches[-1]
        played = written + b.shift - a.shift
        if played != written:
            found.append(WrongInterval(a.stroke.bar, a.stroke.count, written, played))
    return found


INTERVALS = (
    "unison", "minor second", "major second", "minor third", "major third", "fourth", "tritone", "fifth",
    "minor sixth", "major sixth", "minor seventh", "major seventh", "octave",
)  # fmt: skip


def interval_name(semitones: int) -> str:
    """An interval by its semitones, as players say it."""
    size = abs(semitones)
    name = INTERVALS[size] if size <= 12 else f"{INTERVALS[size % 12]} and {size // 12} octave{'s' * (size > 23)}"
    return name if not semitones else f"{name} {'above' if semitones > 0 else 'below'}"


def _who_leads_where(duo: Duo) -> list[str]:
    """Who leads in which bars, where a lead is sure to be noticed in some bars and not in all by one player."""
    if not duo.lead_known:
        return []
    bars = {who: [bar.bar for bar in duo.bars if bar.leader == who] for who in ("first", "second")}
    if not any(bars.values()) or any(len(led) == len(duo.bars) for led in bars.values()):
        return []
    said = [f"the {who} leads in bar{'s' * (len(led) > 1)} {counted(led)}" for who, led in bars.items() if led]
    return [capital(", ".join(said) + ".")]


def _who_follows(duo: Duo) -> list[str]:
    """Who makes good the last difference, where that is sure."""
    follow = [gain if gain.low > LEAST_GAIN else None for gain in duo.correction]
    told = [
        f"the {one} follows the {other} and makes good {gain.value:.0%} of a difference in the next stroke"
        for one, other, gain in zip(("first", "second"), ("second", "first"), follow, strict=True)
        if gain
    ]
    return [capital("; ".join(told) + ".")] if told else []


def _sentences(duo: Duo) -> list[str]:
    told = []
    if not duo.lead_known:
        told.append("Who leads is not known: the takes do not share a clock and are not calibrated.")
    elif duo.lead.beyond(0.0) and abs(duo.lead.value) >= 2.0:
        who = "first" if duo.lead.value > 0 else "second"
        told.append(f"The {who} guitar leads by {abs(duo.lead.value):.0f} ms on average.")
    else:
        told.append("Neither guitar leads.")
    told += _who_leads_where(duo)
    close = "together to the ear" if duo.spread_ms <= TIGHT_MS else "not yet together"
    told.append(f"They differ by {duo.spread_ms:.0f} ms from stroke to stroke: {close}.")
    told += _who_follows(duo)
    if duo.loosest and duo.tightest and duo.loosest.bar != duo.tightest.bar:
        told.append(
            f"Tightest in bar {duo.tightest.bar} ({duo.tightest.spread_ms:.0f} ms), loosest in bar {duo.loosest.bar} "
            f"({duo.loosest.spread_ms:.0f} ms)."
        )
    if duo.intervals:
        first = duo.intervals[0]
        many = len(duo.intervals)
        rest = f", and {many - 1} more" if many > 1 else ""
        told.append(
            f"Bar {first.bar}, count {first.count}: the {interval_name(first.written)} came out as "
            f"{interval_name(first.played)}{rest}."
        )
    return told
