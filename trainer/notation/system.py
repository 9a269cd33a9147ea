"""The systems of a tab block: rows of cells between bar lines, before anything musical is read into them."""

import re
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

_TIMES = re.compile(r"x(\d+)")


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
    first = group[0][0]
    if not sound:
        return None
    if COUNT not in rows:
        report.add(first, 1, "this system has no count row", hint='Begin it with "count | 1 & 2 & 3 & 4 & |"')
        return None
    bars = len(rows[COUNT].bars)
    for row in rows.values():
        if len(row.bars) != bars:
            what = f'row "{row.label}" has {_bars(len(row.bars))}, the count row {_bars(bars)}'
            report.add(row.line, 1, what, hint="All rows of a system have the same bars")
            sound = False
    if len(set(times.values())) > 1:
        report.add(first, 0, "rows of one system are repeated differently", hint="Write x3 after one row only")
        sound = False
    return System(rows, next(iter(times.values()), 1)) if sound else None


def _bars(number: int) -> str:
    return f"{number} bar" if number == 1 else f"{number} bars"


def _row(line: int, text: str, indent: int, times: dict[int, int], report: Report) -> Row | None:
    label_text, bar, rest = text.partition("|")
    label = " ".join(label_text.split()).casefold()
    if not bar:
        report.add(line, indent + 1, "a row without a bar line", hint="A row is: label | bar | bar |")
        return None
    if label not in ORDER:
        meant = nearest(label, ORDER)
        what = f'a row "{label}" is not known' if label else "a row without a label"
        allowed = f"count, 1 to {MAX_STRINGS}, {', '.join((*KIT, *NOTE_MARKS, *PLACE_MARKS, *BAR_MARKS))}"
        report.add(line, indent + 1, what, allowed, f'Did you mean "{meant}"' if meant else "")
        return None
    pieces = rest.split("|")
    tail = pieces.pop().strip()
    if tail:
        repeat = _TIMES.fullmatch(tail)
        place = indent + len(text) - len(text[text.rindex("|") + 1 :].lstrip()) + 1
        if not repeat:
            what = f'"{tail}" stands after the last bar line'
            report.add(line, place, what, hint="End the row with | (and x3 to play the system three times)")
            return None
        number = int(repeat[1][:9])
        if not 1 <= number <= MOST_REPEATS:
            hint = "Repeat a riff in the form instead"
            report.add(line, place, f"a system cannot be played {number} times", f"x1 to x{MOST_REPEATS}", hint)
            return None
        times[line] = number
    if not pieces:
        report.add(line, indent + 1, "a row without bars", hint="A row is: label | bar | bar |")
        return None
    at = indent + len(label_text) + 1
    bars = []
    for piece in pieces:
        bars.append((at, piece))
        at += len(piece) + 1
    return Row(label, line, bars)
