"""What a part demands of both hands, bar by bar, at a tempo; and at which tempo each ceiling is reached.

Every load is a share of a ceiling (`abilities.Abilities`, `hand.Hand`): 1.0 is as much as the hands can do. All but the
stretch grow with the tempo, so the tempo at which a ceiling is reached is the tempo / the share.

What is kept up (notes, swings, crossings) is counted over windows of two beats; what happens once (a burst, a shift, a
finger's return) is measured at its place.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from trainer.arranging.abilities import TRAINED, Abilities
from trainer.arranging.fingered import Fingered, HandTrouble, finger
from trainer.arranging.hand import STANDARD_HAND, Hand
from trainer.arranging.hand_work import Doing, HandWork, beat_places, between, hand_work, pick_swings
from trainer.arranging.move_costs import Tie
from trainer.arranging.riff_clock import riff_clock
from trainer.arranging.strokes import DOWN, Picking, strokes
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import sounding

WINDOW_BEATS = 2
"""Beats over which a load must be kept up. House rule."""


@dataclass(frozen=True, slots=True)
class Load:
    """One thing the hands must do, at its hardest place in a stretch of music."""

    name: str
    """A key of `UNITS`."""
    value: float
    """In the unit of `UNITS`."""
    share: float
    """Of the ceiling."""
    at: Fraction
    """Where, in whole notes from the riff's start."""
    limit_bpm: float | None
    """The tempo at which the ceiling is reached; None where tempo changes nothing."""


UNITS = {
    "notes": "notes a second",
    "swings": "movements of the pick a second",
    "burst": "movements of the pick a second, between two strokes",
    "crossings": "string changes a second",
    "shift": "millimetres along the neck a second",
    "return": "moves of one finger a second",
    "stretch": "millimetres between the fingers",
}
"""What each load is measured in."""


@dataclass(frozen=True, slots=True)
class BarDemand:
    """What one bar asks for."""

    bar: int
    """From 1."""
    notes_per_s: float
    strokes_per_s: float
    shifts_per_s: float
    longest_shift_mm: float
    stretch_mm: float
    crossings_per_s: float
    held_fingers: int
    """The most fingers that must hold while others move."""
    loads: tuple[Load, ...]
    """The heaviest first; those that do not occur are left out."""

    @property
    def share(self) -> float:
        """The heaviest load's share of its ceiling."""
        return self.loads[0].share if self.loads else 0.0


@dataclass(frozen=True, slots=True)
class Demand:
    """What a part asks for at a tempo."""

    riff: str
    part: str
    bpm: Fraction
    bars: tuple[BarDemand, ...]
    limits: tuple[Load, ...]
    """For each load its hardest place in the riff, the heaviest first."""
    window: tuple[Fraction, Fraction]
    """The hardest stretch: the window (or the move) of the heaviest load, in whole notes from the riff's start."""
    all_down_bpm: float | None
    """The tempo at which playing every stroke down reaches the ceiling; None without strokes."""
    start_bpm: int
    """A tempo to begin the climb at."""
    alone: tuple[int, ...]
    """Bars to practise by themselves, from 1."""
    without_rest_bars: float
    """The longest stretch without a rest of a beat, in bars of the first bar's length; 0 without notes."""
    troubles: tuple[HandTrouble, ...]
    """What no hand can do at any tempo."""

    @property
    def share(self) -> float:
        """The heaviest load's share of its ceiling: above 1 the tempo is beyond the hands."""
        return self.limits[0].share if self.limits else 0.0

    @property
    def limit_bpm(self) -> float | None:
        """The tempo at which the first ceiling is reached."""
        found = [load.limit_bpm for load in self.limits if load.limit_bpm is not None]
        return min(found, default=None)


def demand(
    part: TabPart,
    riff: Riff,
    *,
    bpm: Fraction | None = None,
    hand: Hand = STANDARD_HAND,
    abilities: Abilities = TRAINED,
    picking: Picking = Picking.ALTERNATE,
) -> Demand:
    """What a part asks of the hands.

    Args:
        part: the part; fingers that are not written are found.
        riff: the riff it belongs to.
        bpm: the tempo; the riff's target where it is None.
        hand: the fretting hand.
        abilities: the ceilings.
        picking: how strokes that are not written are chosen.
    """
    tempo = bpm or riff.tempo.target
    fingered = finger(part, riff, bpm=tempo, hand=hand)
    work = hand_work(fingered, riff, tempo, hand=hand, abilities=abilities, picking=picking)
    limits = _loads(work, abilities, Fraction(0), riff.length)
    bars = _bars(work, fingered, riff, abilities)
    all_down = _all_down(part, riff, tempo, abilities)
    window = (Fraction(0), riff.length)
    if limits:
        at = limits[0].at
        window = (at, min(riff.length, at + WINDOW_BEATS * _beat(riff, at)))
    lowest = min((load.limit_bpm for load in limits if load.limit_bpm is not None), default=None)
    return Demand(
        riff.name,
        part.name,
        tempo,
        bars,
        limits,
        window,
        all_down,
        start_tempo(riff.tempo.start, lowest),
        _with_hardest(bars_alone(bars), limits, riff),
        _without_rest(fingered.part, riff),
        fingered.troubles,
    )


START_SHARE = 0.6
"""Where a climb begins when the exercise's own start is too near to what the hands can do: at this share of it. House
rule."""
START_NEAR = 0.75
"""From this share of the first limit on the exercise's own start is too near. House rule."""
ALONE_SHARE = 1.15
"""A bar stands out when its load is this many times the middle bar's. House rule."""


def start_tempo(own_bpm: Fraction, limit_bpm: float | None) -> int:
    """A tempo to begin at: the exercise's own, or `START_SHARE` of the first limit where the own one is too near it."""
    if limit_bpm is None or float(own_bpm) <= START_NEAR * limit_bpm:
        return max(1, int(own_bpm))
    return max(1, int(START_SHARE * limit_bpm))


def _with_hardest(alone: tuple[int, ...], limits: Sequence[Load], riff: Riff) -> tuple[int, ...]:
    """Bars to practise alone and, where there are any, the bar of the hardest place."""
    if not alone:
        return ()
    starts = riff.bar_starts[:-1]
    return tuple(sorted({*alone, max(bar for bar, start in enumerate(starts, 1) if start <= limits[0].at)}))


def _without_rest(part: TabPart, riff: Riff) -> float:
    """The longest stretch without a rest of a beat, in bars."""
    longest = Fraction(0)
    begin: Fraction | None = None
    end = Fraction(0)
    for note in sounding(part, riff.bar_starts):
        if begin is None or note.at - end >= riff.meters[note.bar].pulse:
            begin = note.at
        end = max(end, note.end)
        longest = max(longest, end - begin)
    return float(longest / riff.meters[0].length) if riff.meters else 0.0


def bars_alone(bars: Sequence[BarDemand]) -> tuple[int, ...]:
    """Bars beyond a ceiling, and bars whose load stands out from the middle one by `ALONE_SHARE`."""
    if not bars:
        return ()
    middle = sorted(bar.share for bar in bars)[len(bars) // 2]
    return tuple(
        bar.bar for bar in bars if bar.share > 1 or (bar.share >= ALONE_SHARE * middle and bar.share > 0.5 and middle)
    )


def _beat(riff: Riff, at: Fraction) -> Fraction:
    starts = riff.bar_starts
    bar = max(0, sum(start <= at for start in starts[:-1]) - 1)
    return riff.meters[bar].pulse


def _loads(work: HandWork, abilities: Abilities, begin: Fraction, end: Fraction) -> tuple[Load, ...]:
    """The hardest place of each load between two places, the heaviest first."""
    ceilings: list[tuple[str, Sequence[Doing], float]] = [
        ("notes", work.fretted, abilities.notes_per_s),
        ("swings", work.swings, abilities.swings_per_s),
        ("crossings", work.crossings, abilities.crossings_per_s),
    ]
    windows = _windows(work, begin, end)
    found = []
    for name, doings, ceiling in ceilings:
        rates = [(work.rate(doings, low, high), low) for low, high in windows]
        value, at = max(rates, key=lambda rate: (round(rate[0], 6), -rate[1]), default=(0.0, begin))
        if value:
            found.append(Load(name, value, value / ceiling, at, work.bpm * ceiling / value))
    for name, doings in work.moments.items():
        inside = between(doings, begin, end)
        if inside:
            worst = max(inside, key=lambda doing: (round(doing.share, 6), -doing.at))
            limit = None if name == "stretch" else work.bpm / worst.share
            found.append(Load(name, worst.value, worst.share, worst.at, limit))
    return tuple(sorted(found, key=lambda load: -load.share))


def _windows(work: HandWork, begin: Fraction, end: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Windows of `WINDOW_BEATS` that begin on a beat and lie inside; the whole stretch where none does."""
    beats = [*work.beats[bisect_left(work.beats, begin) : bisect_left(work.beats, end)], end]
    found = list(zip(beats, beats[WINDOW_BEATS:], strict=False))
    return found or [(begin, end)]


def _bars(work: HandWork, fingered: Fingered, riff: Riff, abilities: Abilities) -> tuple[BarDemand, ...]:
    starts = riff.bar_starts
    held: dict[int, int] = {}
    for (bar, _), event, grip in zip(fingered.moments, fingered.chain.events, fingered.fingering.grips, strict=True):
        fingers = {
            note[2] for note, (tie, _) in zip(grip.notes, event.ties, strict=True) if tie is Tie.HELD and note[2]
        }
        held[bar] = max(held.get(bar, 0), len(fingers))
    bars = []
    for number, (begin, end) in enumerate(pairwise(starts)):
        seconds = work.clock.seconds(float(end)) - work.clock.seconds(float(begin))
        shifts = between(work.moments["shift"], begin, end)
        stretches = between(work.moments["stretch"], begin, end)
        bars.append(
            BarDemand(
                number + 1,
                work.rate(work.notes, begin, end),
                len(between(work.swings, begin, end)) / seconds,
                len(shifts) / seconds,
                max((doing.mm for doing in shifts), default=0.0),
                max((doing.value for doing in stretches), default=0.0),
                len(between(work.crossings, begin, end)) / seconds,
                held.get(number, 0),
                _loads(work, abilities, begin, end),
            )
        )
    return tuple(bars)


def _all_down(part: TabPart, riff: Riff, bpm: Fraction, abilities: Abilities) -> float | None:
    """The tempo at which playing every stroke down reaches the picking hand's limit, whatever strokes are written."""
    clock = riff_clock(riff, bpm)
    down = [replace(stroke, direction=DOWN) for stroke in strokes(part, riff)]
    swings, bursts = pick_swings(down, clock, abilities)
    if not bursts:
        return None
    work = HandWork(clock, float(bpm), (), (), swings, (), {}, beat_places(riff), riff.length)
    kept_up = max(work.rate(swings, low, high) for low, high in _windows(work, Fraction(0), riff.length))
    share = max(kept_up / abilities.swings_per_s, *(burst.share for burst in bursts))
    return float(bpm) / share
