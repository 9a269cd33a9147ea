"""Places in a bar that the count row can say, and the nearest ones to those that it cannot.

A count is divided in one way at a time: quarters and eighths (`e & a`, `.`), sixths and twelfths (`la li`, `ta`), or
evenly by dots. What was played by hand, or written in finer tuplets, is moved to the division that fits best.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from trainer.music.meter import Meter
from trainer.notation.count import write_counts

DIVISIONS = (1, 2, 4, 3, 8, 6, 12, 5, 7, 9, 10, 11, 13, 14, 15, 16)
"""Parts of a count, from the likeliest to the least likely."""
_COST = {
    1: 0.0, 2: 0.001, 4: 0.002, 3: 0.006, 8: 0.02, 6: 0.02, 12: 0.035, 5: 0.04, 7: 0.045, 9: 0.06, 10: 0.06, 11: 0.07,
    13: 0.08, 14: 0.08, 15: 0.08, 16: 0.08,
}  # fmt: skip
"""By how many parts of a count the mean distance must fall before a finer division is believed. House rule."""
_COLLISION = 0.12
"""What it costs when two places fall on one: they were played one after the other."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """How the places of one bar were moved."""

    places: Mapping[Fraction, Fraction]
    """For each place, from the bar's start, where it is counted: from 0 to the bar's end, which is the next bar."""
    worst: Fraction
    """The farthest move, in whole notes."""


@lru_cache(maxsize=8192)
def is_countable(places: frozenset[Fraction], meter: Meter) -> bool:
    """Whether a count row can say all of some places of a bar."""
    try:
        write_counts(places, meter)
    except ValueError:
        return False
    return True


@lru_cache(maxsize=8192)
def fitted(places: frozenset[Fraction], meter: Meter, tolerance: Fraction = Fraction(0)) -> Fitted:
    """The places of one bar, each moved to one that the count row can say.

    Args:
        places: from the bar's start, inside the bar.
        meter: the bar's meter.
        tolerance: what a file's clock cannot tell apart, in whole notes: within it a place is what it is nearest to,
            and no division that hits all places so is passed over for a plainer one.
    """
    moved: dict[Fraction, Fraction] = {}
    count = meter.count_length
    for beat in range(meter.counts):
        inside = sorted(place / count - beat for place in places if beat <= place / count < beat + 1)
        if not inside:
            continue
        found = _beat(tuple(inside), tolerance / count)
        moved |= {(place + beat) * count: (to + beat) * count for place, to in found.items()}
    if not is_countable(frozenset(to for to in moved.values() if to < meter.length), meter):
        moved = {place: round(place / count * 4) * count / 4 for place in places}
    return Fitted(moved, max((abs(to - place) for place, to in moved.items()), default=Fraction(0)))


@lru_cache(maxsize=16384)
def _beat(inside: tuple[Fraction, ...], tolerance: Fraction) -> dict[Fraction, Fraction]:
    """For places in one count, as parts of it, where they are counted."""
    if all((place * 24).denominator == 1 for place in inside) and is_countable(frozenset(inside), Meter(1, 1)):
        return {place: place for place in inside}
    best: dict[Fraction, Fraction] = {}
    lowest = float("inf")
    for parts in DIVISIONS:
        found = {place: Fraction(round(place * parts), parts) for place in inside}
        if all(abs(to - place) <= tolerance for place, to in found.items()):
            return found
        away = sum(float(abs(to - place)) for place, to in found.items()) / len(found)
        cost = away + _COST[parts] + _COLLISION * (len(found) - len(set(found.values())))
        if cost < lowest:
            best, lowest = found, cost
    return best


def clusters(places: Iterable[Fraction], apart: Fraction) -> dict[Fraction, Fraction]:
    """For each place the first of those that belong together with it: struck as one, as a strummed chord is.

    Args:
        places: in whole notes.
        apart: places this near to a group's first one belong to the group.
    """
    found: dict[Fraction, Fraction] = {}
    first: Fraction | None = None
    for place in sorted(set(places)):
        if first is None or place - first > apart:
            first = place
        found[place] = first
    return found


def division_name(places: Collection[Fraction], meter: Meter) -> str:
    """What a bar's places are counted in: sixteenths, triplets, mixed, finer."""
    parts = {(place / meter.count_length).denominator for place in places}
    unit = meter.unit
    triplets = any(part % 3 == 0 for part in parts)
    if any((part > 4 and part not in (3, 6)) or part * unit > 48 for part in parts):
        return "finer"
    if triplets:
        return "mixed" if any(part in (2, 4) for part in parts) else "triplets"
    return "sixteenths"
