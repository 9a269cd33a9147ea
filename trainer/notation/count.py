"""The count row: the way players count aloud, read as exact places in a bar and written back from them.

A beat's number stands on its count (the meter's denominator); after it `e & a` for its sixteenths, `la li` for its
triplets, `ta` between those for sextuplets. Dots divide what stands on both sides of them evenly: one halves it, for
thirty-seconds; four between two beats are a quintuplet.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm

from trainer.music.meter import Meter

MARKS = {
    "e": Fraction(1, 4),
    "&": Fraction(1, 2),
    "a": Fraction(3, 4),
    "la": Fraction(1, 3),
    "li": Fraction(2, 3),
}
"""Marks with one meaning, as parts of a count."""
TA, DOT = "ta", "."
MOST_PARTS = 16
"""Parts into which dots divide a beat at most."""
ALLOWED = "a beat's number, e & a, la li, ta, ."

_TOKEN = re.compile(r"[^\s\-]+")


@dataclass(frozen=True, slots=True)
class Column:
    """One count of a bar and the columns of text that belong to it."""

    begin: int
    """The character of the bar's text at which its mark stands, counted from 0."""
    mark: str
    offset: Fraction
    """Whole notes from the bar's start."""


class CountError(Exception):
    """A count row that cannot be read: where in the bar's text, what, and what to do."""

    def __init__(self, begin: int, what: str, allowed: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.begin, self.what, self.allowed, self.hint = begin, what, allowed, hint


@lru_cache(maxsize=4096)
def read_counts(text: str, meter: Meter) -> tuple[Column, ...]:
    """The columns of one bar of a count row, in order.

    Args:
        text: the bar's text, between two bar lines.
        meter: the bar's meter.

    Raises:
        CountError: for a mark that is not known, out of order, or missing.
    """
    tokens = [(found.start(), found[0]) for found in _TOKEN.finditer(text)]
    if not tokens:
        raise CountError(0, "this bar has no counts", hint="Write its counts, or % to repeat the bar before")
    places: list[Fraction | None] = []
    beat, sixth = 0, Fraction(0)
    for begin, mark in tokens:
        if mark.isascii() and mark.isdigit():
            beat, sixth = _beat(begin, mark, beat, meter), Fraction(0)
            places.append(Fraction(beat - 1))
        elif mark == "%":
            raise CountError(begin, "% must stand alone in its bar", hint="Write the bar out, or leave its rows empty")
        elif not beat:
            what = f'"{mark}" stands before the first beat'
            raise CountError(begin, what, hint="Begin the bar with its first count, 1")
        elif mark == DOT:
            places.append(None)
        elif mark == TA:
            sixth += Fraction(1, 6)
            places.append(beat - 1 + sixth)
            sixth += Fraction(1, 6)
        elif mark in MARKS:
            places.append(beat - 1 + MARKS[mark])
            sixth = MARKS[mark] if mark in ("la", "li") else sixth
        else:
            raise CountError(begin, f'"{mark}" is not a count', ALLOWED)
    _check_beats(tokens, meter)
    return _columns(tokens, places, meter)


def _beat(begin: int, mark: str, before: int, meter: Meter) -> int:
    number = int(mark) if len(mark) < 4 else meter.counts + 1
    if not 1 <= number <= meter.counts:
        over = "is longer than its meter" if number > meter.counts else "counts from 1"
        raise CountError(begin, f"count {mark} in a bar of {meter}: the bar {over}", f"counts 1 to {meter.counts}")
    if number <= before:
        raise CountError(begin, f"count {number} stands after count {before}", hint="Counts go up through the bar")
    return number


def _check_beats(tokens: list[tuple[int, str]], meter: Meter) -> None:
    """Every count must stand, so that a bar too short is seen; in compound meters every pulse."""
    step = 3 if meter.compound else 1
    there = {int(mark) for _, mark in tokens if mark.isascii() and mark.isdigit()}
    for beat in range(1, meter.counts + 1, step):
        if beat not in there:
            what = f"count {beat} is missing: the bar is too short for {meter}"
            end = tokens[-1][0] + len(tokens[-1][1])
            hint = f"A bar of {meter} counts 1 to {meter.counts}"
            if beat == 1:
                rest = meter.counts - min(there) + 1
                hint = f"A pickup is a bar of its own meter: write {rest}/{meter.unit} over it, and count it from 1"
            raise CountError(end if beat > 1 else tokens[0][0], what, hint=hint)


def _columns(tokens: list[tuple[int, str]], places: list[Fraction | None], meter: Meter) -> tuple[Column, ...]:
    columns: list[Column] = []
    for (begin, mark), place in zip(tokens, _divided(tokens, places, meter), strict=True):
        offset = place * meter.count_length
        if columns and offset <= columns[-1].offset:
            raise CountError(begin, f'"{mark}" comes too late here', hint="Marks go up through the beat: 1 e & a")
        columns.append(Column(begin, mark, offset))
    return tuple(columns)


def _divided(tokens: list[tuple[int, str]], places: list[Fraction | None], meter: Meter) -> list[Fraction]:
    """The places with those of dots filled in: evenly between the marks on both sides."""
    filled: list[Fraction] = []
    for number, place in enumerate(places):
        if place is not None:
            filled.append(place)
            continue
        after = next((i for i in range(number, len(places)) if places[i] is not None), len(places))
        following = places[after] if after < len(places) else None
        end = Fraction(meter.counts) if following is None else following
        if after - number >= MOST_PARTS:
            what = f"{after - number} dots side by side"
            raise CountError(tokens[number][0], what, f"at most {MOST_PARTS - 1}", "Put a count between them")
        filled.append(filled[-1] + (end - filled[-1]) / (after - number + 1))
    return filled


@lru_cache(maxsize=4096)
def write_counts(offsets: frozenset[Fraction], meter: Meter) -> tuple[tuple[str, Fraction], ...]:
    """Marks for a bar in which the given offsets (whole notes) can stand: (mark, offset), in order.

    Every beat gets its number; other marks only where they are needed.

    Raises:
        ValueError: where a place cannot be counted: a beat is divided into quarters and eighths, sixths and twelfths,
            or evenly into up to `MOST_PARTS`.
    """
    marks: list[tuple[str, Fraction]] = []
    for beat in range(meter.counts):
        inside = {offset / meter.count_length - beat for offset in offsets}
        inside = {place for place in inside if 0 < place < 1}
        marks += [(mark, (place + beat) * meter.count_length) for mark, place in _beat_marks(beat + 1, inside)]
    if not offsets <= {offset for _, offset in marks}:
        raise ValueError("a note outside its bar")
    text = " ".join(mark for mark, _ in marks)
    read = [column.offset for column in read_counts(text, meter)]
    if read != [offset for _, offset in marks]:
        raise ValueError(f'the count row cannot say "{text}"')
    return tuple(marks)


def _beat_marks(number: int, inside: set[Fraction]) -> list[tuple[str, Fraction]]:
    named = {place: mark for mark, place in MARKS.items()}
    parts = lcm(*(place.denominator for place in inside))
    if 8 % parts and 12 % parts and parts <= MOST_PARTS:
        return [(str(number), Fraction(0)), *((DOT, Fraction(part, parts)) for part in range(1, parts))]
    needed = {Fraction(0), *inside}
    for place in inside:
        grid = 4 if (place * 8).denominator == 1 else 6 if (place * 12).denominator == 1 else 0
        if not grid:
            raise ValueError(f"no count for {place} of a beat")
        if place not in named and (place * grid).denominator != 1:
            needed |= {place - Fraction(1, 2 * grid), place + Fraction(1, 2 * grid)} - {Fraction(1)}
    # A sixth is said "ta" after the number, la or li before it, so that one must stand.
    for place in list(needed):
        if place and place not in named and (place * 6).denominator == 1:
            needed.add(place - Fraction(1, 6))
    marks = []
    for place in sorted(needed):
        if place == 0:
            marks.append((str(number), place))
        elif place in named:
            marks.append((named[place], place))
        else:
            marks.append((TA if (place * 6).denominator == 1 else DOT, place))
    return marks


def offset_of(text: str, meter: Meter) -> Fraction:
    """The place of one count in a bar, said as "3", "3 &" or "2 la", in whole notes.

    Raises:
        ValueError: for anything else.
    """
    found = re.fullmatch(r"\s*(\d{1,3})\s*(\S*)\s*", text)
    if not found or not 1 <= int(found[1]) <= meter.counts or (found[2] and found[2] not in MARKS):
        raise ValueError(text)
    return (int(found[1]) - 1 + MARKS.get(found[2], Fraction(0))) * meter.count_length


def count_name(offset: Fraction, meter: Meter) -> str:
    """How a place in a bar is said: "3", "3 &"; the inverse of `offset_of` where that can say it."""
    marks = write_counts(frozenset({offset}), meter)
    beat = int(offset / meter.count_length)
    mark = next(mark for mark, place in marks if place == offset)
    return mark if mark.isdigit() else f"{beat + 1} {mark}"
