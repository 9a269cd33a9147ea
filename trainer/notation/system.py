"""The systems of a tab block: rows of cells between bar lines, before anything musical is read into them."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from trainer.music.instrument import MAX_STRINGS
from trainer.music.note import KIT
from trainer.music.problem import nearest
from trainer.notation.report import Report

COUNT = "count"
BAR_MARKS = ("meter",)
PLACE_MARKS = ("tempo", "chord")
"""Marks that may stand where nothing starts, and may run on over the columns after theirs."""
NOTE_MARKS = ("accent", "mute", "ring", "pick", "finger")
"""Marks that apply to what starts in their column."""
STRING_ROWS = tuple(str(number) for number in range(1, MAX_STRINGS + 1))
ORDER = (COUNT, *BAR_MARKS, *PLACE_MARKS, *reversed(KIT), *STRING_ROWS, *NOTE_MARKS)
"""Every row's label, in the order in which rows are written."""

SIMILE = "%"
MOST_REPEATS = 64
"""Times one system may be played through; a longer passage is a form's work."""

_NEXT = re.compile(r"\s*```|#{1,6}\s")
"""What cannot stand in a block: the next one's fence, or a heading."""
_PLAIN_TAB = re.compile(r"\s*[A-Ga-g][#b]?\d?\s*[|:]")
"""A row that begins with a string's name, as plain tab has it."""
_TIMES = re.compile(r"x(\d{1,9})")


@dataclass(slots=True)
class Row:
    """One row of a system."""

    label: str
    line: int
    """Counted from 1 in the file."""
    bars: list[tuple[int, str]]
    """For each bar the character at which its text begins in the line, counted from 0, and the text."""


@dataclass(slots=True)
class System:
    """Rows that stand under each other."""

    rows: dict[str, Row]
    """By label."""
    times: int
    """How often the system is played."""

    @property
    def counts(self) -> Row:
        """The count row."""
        return self.rows[COUNT]

    @property
    def is_drums(self) -> bool:
        """Whether pieces of a kit are written here."""
        return any(label in KIT for label in self.rows)


def read_systems(content: str, first_line: int, indent: int, report: Report) -> list[System]:
    """The systems of one block; problems go to the report, and what is wrong is left out.

    Args:
        content: the block's text, without its fences.
        first_line: the line in the file on which it begins, counted from 1.
        indent: characters that the fence's own indentation takes from every line.
        report: where problems go.
    """
    systems: list[System] = []
    group: list[tuple[int, str]] = []
    for number, text in enumerate([*content.split("\n"), ""], first_line):
        if _NEXT.match(text):
            what = f"a new block or heading begins before the block of line {first_line - 1} is closed"
            report.add(number, indent + 1, what, hint="Write a line ``` after the block's last row")
            return []
        if text.strip():
            group.append((number, text))
        elif group:
            system = _system(group, indent, report)
            if system:
                systems.append(system)
            group = []
    return systems


def _system(group: list[tuple[int, str]], indent: int, report: Report) -> System | None:
    rows: dict[str, Row] = {}
    times: dict[int, int] = {}
    first = group[0][0]
    if sum(bool(_PLAIN_TAB.match(text)) for _, text in group) >= 3:
        what = "this is plain tab, with strings for rows and no counts"
        report.add(first, indent + 1, what, hint="twinspur read-tab reads it and proposes its counts")
        return None
    sound = True
    for line, text in group:
        row = _row(line, text, indent, times, report)
        if row is None:
            sound = False
        elif row.label in rows:
            report.add(line, 1, f'two rows "{row.label}" in one system', hint="Put an empty line between systems")
            sound = False
        else:
            rows[row.label] = row
    if not sound:
        return None
    if COUNT not in rows:
        report.add(first, 1, "this system has no count row", hint='Begin it with "count | 1 & 2 & 3 & 4 & |"')
        return None
    sound = _same_bars(rows, report)
    if len(set(times.values())) > 1:
        report.add(first, 0, "rows of one system are repeated differently", hint="Write x3 after one row only")
        sound = False
    return System(rows, next(iter(times.values()), 1)) if sound else None


def _same_bars(rows: Mapping[str, Row], report: Report) -> bool:
    """Whether all rows have as many bars as the count row; who is alone with its number is told."""
    counts = rows[COUNT]
    bars = len(counts.bars)
    others = {len(row.bars) for label, row in rows.items() if label != COUNT}
    if len(others) == 1 and len(rows) > 2 and bars not in others:
        theirs = next(iter(others))
        what = f"the count row has {_bars(bars)}, every other row {theirs}"
        report.add(counts.line, 1, what, hint=f"A bar line is {'missing' if bars < theirs else 'too many'} in it")
        return False
    wrong = [row for row in rows.values() if len(row.bars) != bars]
    for row in wrong:
        what = f'row "{row.label}" has {_bars(len(row.bars))}, the count row {_bars(bars)}'
        report.add(row.line, 1, what, hint="All rows of a system have the same bars")
    return not wrong


def _bars(number: int) -> str:
    return f"{number} bar" if number == 1 else f"{number} bars"


def _row(line: int, text: str, indent: int, times: dict[int, int], report: Report) -> Row | None:
    """One row; how often its system is played goes into `times` under its line. None, and a problem, if it is none."""
    label_text, bar, rest = text.partition("|")
    label = " ".join(label_text.split()).casefold()
    problem = _row_problem(text, label, bar)
    if problem:
        at, what, allowed, hint = problem
        report.add(line, indent + at + 1, what, allowed, hint)
        return None
    pieces = rest.split("|")
    tail = pieces.pop().strip()
    if tail:
        wrong = _times_problem(tail)
        if wrong:
            what, allowed, hint = wrong
            place = indent + len(text) - len(text[text.rindex("|") + 1 :].lstrip()) + 1
            report.add(line, place, what, allowed, hint)
            return None
        times[line] = int(tail[1:])
    if not pieces:
        report.add(line, indent + 1, "a row without bars", hint="A row is: label | bar | bar |")
        return None
    at = indent + len(label_text) + 1
    bars = []
    for piece in pieces:
        bars.append((at, piece))
        at += len(piece) + 1
    return Row(label, line, bars)


def _row_problem(text: str, label: str, bar: str) -> tuple[int, str, str, str] | None:
    """What is wrong with a row before its bars are looked at: character, what, allowed, hint."""
    if "\t" in text:
        return text.index("\t"), "a tab character in a row", "", "Columns are counted in characters: write spaces"
    if not bar:
        return 0, "a row without a bar line", "", "A row is: label | bar | bar |"
    if label not in ORDER:
        meant = nearest(label, ORDER)
        what = f'a row "{label}" is not known' if label else "a row without a label"
        allowed = f"count, 1 to {MAX_STRINGS}, {', '.join((*KIT, *NOTE_MARKS, *PLACE_MARKS, *BAR_MARKS))}"
        return 0, what, allowed, f'Did you mean "{meant}"' if meant else ""
    return None


def _times_problem(tail: str) -> tuple[str, str, str] | None:
    """What is wrong with text after a row's last bar line: what, allowed, hint."""
    repeat = _TIMES.fullmatch(tail)
    if not repeat:
        hint = "End the row with | (and x3 to play the system three times)"
        return f'"{tail}" stands after the last bar line', "", hint
    number = int(repeat[1])
    if not 1 <= number <= MOST_REPEATS:
        return (
            f"a system cannot be played {number} times",
            f"x1 to x{MOST_REPEATS}",
            "Repeat a riff in the form instead",
        )
    return None
