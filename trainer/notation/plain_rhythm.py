"""When the notes of plain tab are played: by a count line, by letters of note lengths, or else by their spacing."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.meter import Meter
from trainer.notation.plain_tab import PlainBar, PlainNote, PlainSystem

Strokes = tuple[tuple[PlainNote, ...], ...]
"""The notes of a bar that are struck together, in order."""

_LENGTHS = {"w": 1, "h": 2, "q": 4, "e": 8, "s": 16, "t": 32}
"""Letters of note lengths: how many go into a whole note."""
_WORD = re.compile(r"\S+")
_COUNT = re.compile(r"\d{1,2}|e|&|\+|and|n|a|la|li|ta", re.IGNORECASE)
_LETTER = re.compile(r"([whqest])(\.?)", re.IGNORECASE)
_RANGE = re.compile(r"(?P<word>P\.?\s?M\.?|let ring)(?P<dashes>[ \-.]*-)?", re.IGNORECASE)

DIVISIONS = (1, 2, 3, 4, 6, 8)
"""Parts of a count that spacing may mean."""
MOST_LEAD = 4
"""Dashes before a bar's first count."""
WIDEST_SLOT = 8
"""Characters of the finest note."""


@dataclass(frozen=True, slots=True)
class Grid:
    """How characters stand for time in one text."""

    lead: int
    """Characters between a bar line and the first count."""
    slot: int
    """Characters of the finest note."""
    cost: float
    """How badly it fits: 0 where every note stands exactly on a slot and every bar is full."""


def strokes_of(bar: PlainBar) -> Strokes:
    """The notes of a bar in groups that are struck together: columns that overlap on different strings."""
    groups: list[list[PlainNote]] = []
    for note in bar.notes:
        last = groups[-1] if groups else []
        together = last and note.column < max(other.end for other in last)
        if together and note.string not in {other.string for other in last}:
            last.append(note)
        else:
            groups.append([note])
    return tuple(tuple(sorted(group, key=lambda note: note.string)) for group in groups)


def counted(system: PlainSystem, meter: Meter) -> list[list[Fraction]] | None:
    """For each bar where its strokes lie by the system's count line, in whole notes; None where it has none."""
    words = next((found for line in system.around if (found := _count_words(line))), None)
    if words is None:
        return None
    bars = []
    for bar in system.bars:
        inside = [(at, word) for at, word in words if bar.begin - 1 <= at < bar.end]
        places = _count_places(inside, meter)
        if not places:
            return None
        bars.append([_nearest(stroke, places) for stroke in strokes_of(bar)])
    return bars


def _nearest(stroke: tuple[PlainNote, ...], places: Sequence[tuple[int, Fraction]]) -> Fraction:
    column, end = min(note.first for note in stroke), max(note.end for note in stroke)
    return min(places, key=lambda place: (max(column - place[0], place[0] - end + 1, 0), place[0]))[1]


def _count_words(line: str) -> list[tuple[int, str]] | None:
    words = [(found.start(), found[0].casefold()) for found in _WORD.finditer(line.replace("|", " "))]
    if len(words) < 3 or not all(_COUNT.fullmatch(word) for _, word in words):
        return None
    return words if any(word == "1" for _, word in words) and any(word == "2" for _, word in words) else None


def _count_places(words: Sequence[tuple[int, str]], meter: Meter) -> list[tuple[int, Fraction]]:
    inner = {"e": Fraction(1, 4), "&": Fraction(1, 2), "+": Fraction(1, 2), "and": Fraction(1, 2), "n": Fraction(1, 2)}
    inner |= {"a": Fraction(3, 4), "la": Fraction(1, 3), "li": Fraction(2, 3)}
    places, beat = [], 0
    for at, word in words:
        if word.isdigit():
            beat = int(word)
            if not 1 <= beat <= meter.counts:
                return []
            places.append((at, (beat - 1) * meter.count_length))
        elif beat and word in inner:
            places.append((at, (beat - 1 + inner[word]) * meter.count_length))
    return places


def lettered(system: PlainSystem, meter: Meter) -> list[list[Fraction]] | None:
    """For each bar where its strokes lie by letters of note lengths over them; None where there are none that fit."""
    lengths = _letters(system)
    if lengths is None or any(sum(bar) > meter.length for bar in lengths):
        return None
    return [[sum(bar[:number], Fraction(0)) for number in range(len(bar))] for bar in lengths]


def lettered_length(system: PlainSystem) -> Fraction:
    """The longest bar by letters of note lengths, in whole notes; 0 where there are none."""
    return max((sum(bar, Fraction(0)) for bar in _letters(system) or ()), default=Fraction(0))


def _letters(system: PlainSystem) -> list[list[Fraction]] | None:
    """For each bar the lengths of its strokes by the letters over or under them; None where they do not fit."""
    for line in system.around:
        words = [(found.start(), found[0]) for found in _WORD.finditer(line.replace("|", " "))]
        if not words or not all(_LETTER.fullmatch(word) for _, word in words):
            continue
        bars = [[_length(word) for at, word in words if bar.begin - 1 <= at < bar.end] for bar in system.bars]
        fits = all(len(bar) == len(strokes_of(plain)) for bar, plain in zip(bars, system.bars, strict=True))
        return bars if fits else None
    return None


def _length(word: str) -> Fraction:
    found = _LETTER.fullmatch(word)
    whole = Fraction(1, _LENGTHS[word[0].casefold()])
    return whole * Fraction(3, 2) if found and found[2] else whole


def fitting(bars: Sequence[PlainBar], meter: Meter, finest: int | None = None) -> Grid | None:
    """The grid of characters that fits all bars best; None where there is no bar.

    Args:
        bars: all bars of a text.
        meter: their meter.
        finest: the shortest note there may be, as parts of a whole note; None leaves it open.
    """
    grids = []
    for lead in range(MOST_LEAD + 1):
        for slot in range(1, WIDEST_SLOT + 1):
            costs = [_slots(bar, meter, lead, slot, finest)[1] for bar in bars]
            grids.append(Grid(lead, slot, sum(costs) / len(costs)) if costs else Grid(lead, slot, 99.0))
    return min(grids, key=lambda grid: (round(grid.cost, 6), grid.lead, -grid.slot)) if bars else None


def spaced(bar: PlainBar, meter: Meter, grid: Grid, finest: int | None = None) -> list[Fraction]:
    """Where the strokes of a bar lie by their spacing, in whole notes from its start."""
    slots, _ = _slots(bar, meter, grid.lead, grid.slot, finest)
    places = []
    before = -1
    for stroke in strokes_of(bar):
        at = min(max(round(_slot_of(stroke, bar.begin + grid.lead, grid.slot)), before + 1), slots - 1)
        places.append(Fraction(at, slots) * meter.length)
        before = at
    return places


def _slot_of(stroke: tuple[PlainNote, ...], begin: int, slot: int) -> float:
    """How many slots after the first count a stroke stands: its fret, or the mark before it where that fits better."""
    places = [(column - begin) / slot for column in (stroke[0].column, stroke[0].first)]
    return min(places, key=lambda place: abs(place - round(place)))


def _slots(bar: PlainBar, meter: Meter, lead: int, slot: int, finest: int | None) -> tuple[int, float]:
    """How many slots a bar has on a grid of characters, and how badly it fits."""
    width = (bar.end - bar.begin - lead) / slot
    places = [_slot_of(stroke, bar.begin + lead, slot) for stroke in strokes_of(bar)]
    off = sum(abs(place - round(place)) + (4.0 if place < 0 else 0.0) for place in places)
    fits = []
    for division in DIVISIONS:
        slots = meter.counts * division
        if finest and division > 1 and meter.unit * division > finest and (division % 3 or division > 3):
            continue
        beyond = sum(round(place) >= slots for place in places)
        crowded = len(places) - len({round(place) for place in places})
        slack = width - slots
        fits.append(((4.0 * (beyond + crowded) + off + (slack if slack >= 0 else -4 * slack) / 2), slots))
    cost, slots = min(fits)
    return slots, cost


def ranged(system: PlainSystem, word: str) -> list[tuple[int, int]]:
    """Where palm mutes ("p") or let ring ("l") hold beside a system: first column, and the one after the last."""
    spans = (span for line in system.around for span in _RANGE.finditer(line))
    return [
        (span.start(), span.end() if span["dashes"] else span.start() + 2)
        for span in spans
        if span["word"].casefold().startswith(word)
    ]


def marked(system: PlainSystem, letters: str) -> dict[int, str]:
    """Marks of one letter each over or under a system, such as accents or strokes, by column; only where all fit."""
    for line in system.around:
        words = [(found.start(), found[0]) for found in _WORD.finditer(line.replace("|", " "))]
        if words and all(len(word) == 1 and word.casefold() in letters for _, word in words):
            return {at: word.casefold() for at, word in words}
    return {}
