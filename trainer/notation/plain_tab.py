"""Plain tab as guitarists type it in mail and on forums: lines of dashes are found in a text and taken apart.

Nothing here decides about time: a system becomes bars with notes in character columns (`plain_rhythm` reads time from
them). Columns are characters of the whole line, counted from 0, so that what stands above or below lines up.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

FEWEST_STRINGS, MOST_STRINGS = 4, 9
ATTACKS = "hHpPtTsS/\\"
"""Marks before a fret, with or without dashes between."""
MOST_GAP = 3
"""Dashes between such a mark and the fret that it leads to."""
HIGHEST_FRET = 24
FEWEST_DASHES = 4
"""Dashes on a line of tab; at least every sixth character is one."""
MOST_COLUMNS = 1_000
"""Characters of a line of tab."""
MOST_AROUND = 3
"""Lines above and below a system that are looked at."""
MOST_SYSTEMS = 500
"""Systems read from one text."""

_LABEL = re.compile(r"\s*(?P<name>[A-Ga-g][#b]?\d?)?\s*(?=[|:\-])")
_BODY = re.compile(r"[-|:\dhHpPbBrR/\\~xXtTsSvVwoO()<>\[\]{}*^.= ]+")
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212_", "-"))
_TIMES = re.compile(r"\(?\s*(?:[xX]\s*(?P<after>\d{1,2})|(?P<before>\d{1,2})\s*[xX])\s*\)?")
_NOTE = re.compile(
    r"(?P<open>[<\[({])?(?P<fret>\d+|[xX])(?P<close>[>\])}])?(?P<star>\*)?"
    r"(?P<bend>[bB^](?:\(?(?P<goal>\d{1,2})\)?)?)?(?P<release>[rR](?:\(?(?P<to>\d{1,2})\)?)?)?(?P<vibrato>[~vVw]+)?"
)


@dataclass(frozen=True, slots=True)
class PlainNote:
    """One note as it is typed."""

    string: int
    """1 is the thinnest."""
    column: int
    end: int
    """The column after its fret's digits."""
    first: int
    """The column of the mark or bracket right before its fret; its own where there is none."""
    fret: int
    """0 for a dead note."""
    dead: bool = False
    harmonic: bool = False
    bracketed: bool = False
    """Whether it stands in round brackets: held on, or only hinted at."""
    attack: str = ""
    """The mark before it, small: h, p, t, s, / or a backslash."""
    bend: int | None = None
    """The fret bent to; 0 where none is named."""
    release: int | None = None
    """The fret released to; 0 where none is named."""
    vibrato: bool = False


@dataclass(frozen=True, slots=True)
class PlainBar:
    """What stands between two bar lines."""

    begin: int
    """The first column after the bar line before it."""
    end: int
    """The column of the bar line after it."""
    notes: tuple[PlainNote, ...]
    """In order of column."""


@dataclass(frozen=True, slots=True)
class PlainSystem:
    """Some lines of strings under each other."""

    line: int
    """The line of the text on which its first string stands, from 1."""
    names: tuple[str, ...]
    """The strings' names from the top; empty texts where none are given."""
    bars: tuple[PlainBar, ...]
    around: tuple[str, ...]
    """The lines close above and below it, which may hold counts, note lengths or palm mutes."""
    times: int = 1
    """How often it is played."""
    left_out: tuple[str, ...] = ()
    """What stands in it and cannot be written down."""


def find_systems(text: str) -> tuple[PlainSystem, ...]:
    """The systems of a text, in order; what is no tab is passed over."""
    lines = [line.expandtabs(8).translate(_DASHES).rstrip() for line in text.splitlines()]
    is_tab = [_is_string(line) for line in lines]
    systems: list[PlainSystem] = []
    at = 0
    while at < len(lines) and len(systems) < MOST_SYSTEMS:
        if not is_tab[at]:
            at += 1
            continue
        end = at
        while end < len(lines) and is_tab[end]:
            end += 1
        for first, count in _groups(lines[at:end]):
            begin = at + first
            around = (*_above(lines, is_tab, begin), *_below(lines, is_tab, begin + count))
            systems.append(_system(lines[begin : begin + count], begin + 1, around))
        at = end
    return tuple(systems)


def _above(lines: Sequence[str], is_tab: Sequence[bool], begin: int) -> list[str]:
    """The lines right above a system, up to an empty one."""
    first = begin
    while first > max(0, begin - MOST_AROUND) and lines[first - 1].strip() and not is_tab[first - 1]:
        first -= 1
    return list(lines[first:begin])


def _below(lines: Sequence[str], is_tab: Sequence[bool], end: int) -> list[str]:
    """The lines right below a system, up to an empty one; none where the next system follows at once."""
    last = end
    while last < min(len(lines), end + MOST_AROUND) and lines[last].strip():
        if is_tab[last]:
            return []
        last += 1
    return list(lines[end:last])


def _is_string(line: str) -> bool:
    """Whether a line looks like one string of a tab."""
    found = _LABEL.match(line) if len(line) <= MOST_COLUMNS else None
    if not found:
        return False
    body = line[found.end() :].rstrip()
    tail = _TIMES.search(body[body.rfind("|") + 1 :]) if "|" in body else None
    if tail:
        body = body[: body.rfind("|") + 1]
    dashes = body.count("-")
    return dashes >= FEWEST_DASHES and dashes * 6 >= len(body) and bool(_BODY.fullmatch(body))


def _groups(lines: Sequence[str]) -> list[tuple[int, int]]:
    """Lines of strings without a gap, as systems (first, how many): six and six where twelve stand together."""
    if len(lines) < FEWEST_STRINGS:
        return []
    if len(lines) <= MOST_STRINGS:
        return [(0, len(lines))]
    size = next((size for size in (6, 7, 8, 4, 5) if len(lines) % size == 0), 6)
    return [(first, size) for first in range(0, len(lines) - size + 1, size)]


def _system(lines: Sequence[str], line: int, around: tuple[str, ...]) -> PlainSystem:
    labels = [found for text in lines if (found := _LABEL.match(text))]
    names = tuple(found["name"] or "" for found in labels)
    start = max(found.end() for found in labels)
    times, bodies = 1, []
    for text in lines:
        last = text.rfind("|")
        tail = _TIMES.search(text[last + 1 :]) if last > start else None
        times = max(times, int(tail["after"] or tail["before"])) if tail else times
        bodies.append(text[: last + 1] if tail else text)
    width = max(len(text) for text in bodies)
    bodies = [text.ljust(width, "-") for text in bodies]
    lines_at = [
        column
        for column in range(start, width)
        if sum(text[column] in "|:" for text in bodies) * 2 > len(bodies) or all(text[column] == "|" for text in bodies)
    ]
    edges = [start - 1, *lines_at, width]
    left_out: list[str] = []
    bars = []
    for before, after in pairwise(edges):
        if after - before < FEWEST_STRINGS:
            continue
        notes: list[PlainNote] = []
        for string, text in enumerate(bodies, 1):
            played, lost = _notes(text[before + 1 : after], before + 1, string)
            notes += played
            left_out += lost
        bars.append(PlainBar(before + 1, after, tuple(sorted(notes, key=lambda note: (note.column, note.string)))))
    while len(bars) > 1 and not bars[-1].notes and bars[-1].end == width:
        bars.pop()
    return PlainSystem(line, names, tuple(bars), around, max(1, times), tuple(dict.fromkeys(left_out)))


def _notes(text: str, begin: int, string: int) -> tuple[list[PlainNote], list[str]]:
    """The notes of one string in one bar, and what was passed over."""
    notes: list[PlainNote] = []
    lost: list[str] = []
    mark, mark_at = "", -9
    at = 0
    while at < len(text):
        char = text[at]
        found = _NOTE.match(text, at)
        if found and not (char in "xX" and text[at + 1 : at + 2].isdigit()):
            attack = mark if at - mark_at <= MOST_GAP + 1 else ""
            first = mark_at if attack and mark_at == at - 1 else at
            notes += _split(found, begin, begin + first, string, attack)
            mark, mark_at = "", -9
            at = found.end()
            continue
        if char in ATTACKS:
            if mark:
                lost.append(mark)
            mark, mark_at = char.casefold(), at
        elif char not in "- |:.*o=~ ":
            lost.append(char)
        at += 1
    if mark:
        lost.append(mark)
    return notes, lost


def _split(found: re.Match[str], begin: int, first: int, string: int, attack: str) -> list[PlainNote]:
    """The notes that a run of digits says: 12 is one fret, 57 is two, 1012 is 10 and 12."""
    column = begin + found.start("fret")
    if not found["fret"].isdigit():
        return [PlainNote(string, column, column + 1, first, 0, dead=True, attack=attack)]
    pieces = frets_of(found["fret"])
    notes = []
    for number, piece in enumerate(pieces):
        last = number == len(pieces) - 1
        notes.append(
            PlainNote(
                string,
                column,
                column + len(piece),
                first if number == 0 else column,
                int(piece),
                harmonic=len(pieces) == 1 and (found["open"] in ("<", "[") or bool(found["star"])),
                bracketed=len(pieces) == 1 and found["open"] in ("(", "{"),
                attack=attack if number == 0 else "",
                bend=int(found["goal"] or 0) if last and found["bend"] else None,
                release=int(found["to"] or 0) if last and found["bend"] and found["release"] else None,
                vibrato=last and bool(found["vibrato"]),
            )
        )
        column += len(piece)
    return notes


def frets_of(digits: str) -> tuple[str, ...]:
    """The frets that a run of digits names.

    Examples:
        >>> frets_of("12"), frets_of("57"), frets_of("1012"), frets_of("000")
        (('12',), ('5', '7'), ('10', '12'), ('0', '0', '0'))
    """
    pairs = [digits[at : at + 2] for at in range(0, len(digits), 2)]
    if all(len(pair) == 2 and pair[0] != "0" and int(pair) <= HIGHEST_FRET for pair in pairs):
        return tuple(pairs)
    return (digits,) if len(digits) == 1 else tuple(digits)
