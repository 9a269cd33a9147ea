"""How a stretch of time is written as notes: values with dots and tuplets, tied where one value cannot say it."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

NAMES = {
    -1: "breve", 0: "whole", 1: "half", 2: "quarter", 3: "eighth", 4: "16th", 5: "32nd", 6: "64th", 7: "128th",
    8: "256th", 9: "512th", 10: "1024th",
}  # fmt: skip
"""Note values by how often a whole note is halved, named as MusicXML names them."""
_DOTTED = ((7, 2, 4), (3, 1, 2), (1, 0, 1))
"""Lengths that one value says, in its smallest part: parts, dots, and how many parts its head has."""


@dataclass(frozen=True, slots=True)
class Value:
    """One written value. Lengths and places are in whole notes.

    >>> written(Fraction(0), Fraction(5, 16), Fraction(1, 4))
    (Value(at=Fraction(0, 1), length=Fraction(1, 4), name='quarter', dots=0, tuplet=(1, 1)), \
Value(at=Fraction(1, 4), length=Fraction(1, 16), name='16th', dots=0, tuplet=(1, 1)))
    """

    at: Fraction
    """From the bar's start."""
    length: Fraction
    """As it sounds."""
    name: str
    """One of `NAMES`."""
    dots: int
    tuplet: tuple[int, int]
    """So many in the time of so many: (3, 2) for a triplet, (1, 1) for none."""


@lru_cache(maxsize=16384)
def written(begin: Fraction, end: Fraction, count: Fraction) -> tuple[Value, ...]:
    """The values that fill a stretch of one bar, in order.

    Args:
        begin: where it begins, from the bar's start.
        end: where it ends.
        count: the length of the bar's count; tuplets do not reach over counts.

    Raises:
        ValueError: the stretch is finer than notes are written.
    """
    if _is_plain(begin) and _is_plain(end):
        return _values(begin, end - begin, 1)
    found: list[Value] = []
    at = begin
    while at < end:
        until = min(end, (at // count + 1) * count)
        if _is_plain(at) and _is_plain(until):  # whole counts stand together
            until = max(until, end // count * count)
            found += _values(at, until - at, 1)
        else:
            found += _values(at, until - at, max(_odd(at.denominator), _odd(until.denominator)))
        at = until
    return tuple(found)


def _is_plain(place: Fraction) -> bool:
    return _odd(place.denominator) == 1


def _odd(number: int) -> int:
    return number // (number & -number)


def _values(at: Fraction, length: Fraction, actual: int) -> tuple[Value, ...]:
    """Values of one tuplet, the longest first; `actual` is 1 for none."""
    normal = 1 << (actual.bit_length() - 1)
    left = length * Fraction(actual, normal)
    if not _is_plain(left):
        raise ValueError(f"no note values for {length}")
    found = []
    while left:
        value = _longest(left)
        sounding = value[2] * Fraction(normal, actual)
        found.append(Value(at, sounding, value[0], value[1], (actual, normal)))
        at += sounding
        left -= value[2]
    return tuple(found)


def _longest(left: Fraction) -> tuple[str, int, Fraction]:
    """The longest value that fits: name, dots and length as written."""
    for exponent, name in NAMES.items():
        head = Fraction(2) ** -exponent
        if head <= left:
            dots = next(dots for parts, dots, heads in _DOTTED if head * Fraction(parts, heads) <= left)
            return name, dots, head * (2 - Fraction(1, 2**dots))
    raise ValueError(f"no note value for {left}")
