"""One bar of a tab block: cells under counts become moments."""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache, partial
from typing import TypeVar

from trainer.music.instrument import Instrument
from trainer.music.meter import Meter
from trainer.music.note import KIT, DrumMoment, Force, Hit, Moment, Note
from trainer.music.printable import is_printable
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.notation.cell import REST, CellError, read_cell
from trainer.notation.count import Column, CountError, read_counts
from trainer.notation.ranges import ROWS as RANGE_ROWS
from trainer.notation.ranges import read_spans
from trainer.notation.system import COUNT, NOTE_MARKS, PLACE_MARKS, SIMILE

T = TypeVar("T")

_ROOM = "Let it begin right under its own count, with no other cell under the counts that it covers"
_TOKEN = re.compile(r"[^\s\-]+")
_WORD = re.compile(r"\S+")

MARK_CHOICES: dict[str, tuple[str, str]] = {
    "accent": (r"[>^]", "> or ^"),
    "pick": (r"[du]", "d (down) or u (up)"),
    "finger": (r"[1-4T]{1,12}", "1 to 4 or T; in a chord one for each fretted string, thickest first"),
}
"""For each mark row with a choice: what may stand there, as a pattern and in words."""

_TEMPO = re.compile(r"(>)?(\d{1,3}(?:\.\d{1,3})?)")


@dataclass(frozen=True, slots=True)
class BarProblem:
    """What is wrong in a bar: which row, at which character of the bar's text (from 0), and what."""

    row: str
    begin: int
    what: str
    allowed: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class BarTempo:
    """A tempo mark in a bar."""

    offset: Fraction
    bpm: Fraction
    gradual: bool
    begin: int
    """The character of the bar's text, counted from 0."""


@dataclass(frozen=True, slots=True)
class ReadBar:
    """A bar that was read: moments, tempo marks, and what was wrong."""

    moments: tuple[Moment, ...] = ()
    drums: tuple[DrumMoment, ...] = ()
    tempos: tuple[BarTempo, ...] = ()
    problems: tuple[BarProblem, ...] = ()


Cells = Mapping[str, str]
"""For each row's label the text of one bar."""


def is_simile(cells: Cells) -> bool:
    """Whether the bar repeats the one before: `%` in some row and nothing but `%` or filler in all."""
    texts = [text.strip(" -") for text in cells.values()]
    return SIMILE in texts and all(text in ("", SIMILE) for text in texts)


def cell_at(cells: Cells, row: str, offset: Fraction, meter: Meter) -> int:
    """The character of a row's text, from 0, at which the cell of one place of the bar begins; 0 if it has none."""
    columns = read_counts(cells[COUNT], meter)
    begins = [column.begin for column in columns]
    found = (begin for begin, _, _ in _tokens(cells[row]) if columns[bisect_right(begins, begin) - 1].offset == offset)
    return next(found, 0)


@lru_cache(maxsize=4096)
def _tokens(text: str) -> tuple[tuple[int, int, str], ...]:
    return tuple((found.start(), found.end(), found[0]) for found in _TOKEN.finditer(text))


class _Reader:
    """Reads the cells of one bar, row by row."""

    def __init__(self, cells: Cells, meter: Meter) -> None:
        self.cells = cells
        self.problems: list[BarProblem] = []
        self.columns: tuple[Column, ...] = ()
        self.begins: list[int] = []
        self.crowded: set[int] = set()
        """Columns in which a second cell was already reported: one lacking count is told once, not for every row."""
        try:
            self.columns = read_counts(cells[COUNT], meter)
        except CountError as error:
            self.wrong(COUNT, error.begin, error.what, error.allowed, error.hint)
        self.begins = [column.begin for column in self.columns]

    def wrong(self, row: str, begin: int, what: str, allowed: str = "", hint: str = "") -> None:
        self.problems.append(BarProblem(row, begin, what, allowed, hint))

    def under(self, row: str, read: Callable[[str], T]) -> list[tuple[int, int, T]]:
        """A row's cells as (index of the column, character, value), at most one in a column.

        Args:
            row: the row's label.
            read: reads a token, or raises CellError: what is wrong with it is told before where it stands.
        """
        found = []
        before = -1
        words = _tokens(self.cells[row])
        for number, (begin, end, text) in enumerate(words):
            column = bisect_right(self.begins, begin) - 1
            try:
                value = read(text)
            except CellError as error:
                self.wrong(row, begin, error.what, error.allowed, error.hint)
                before = max(before, column)
                continue
            if column < 0:
                self.wrong(row, begin, f'"{text}" stands under no count', hint="Move it under its count")
            elif column == before:
                self._crowd(row, begin, text, column)
            elif self._overruns(column, begin, end, words[number + 1][0] if number + 1 < len(words) else None):
                marks = f"{self.columns[column].mark} and {self.columns[column + 1].mark}"
                self.wrong(row, begin, f'"{text}" runs over two counts ({marks})', hint=_ROOM)
            else:
                found.append((column, begin, value))
            before = column
        return found

    def _overruns(self, column: int, begin: int, end: int, following: int | None) -> bool:
        """Whether a cell reaches into another count and cannot be understood all the same.

        It can where it begins right under its own count and the counts that it covers have no cell of their own.
        """
        last = bisect_left(self.begins, end) - 1
        if last <= column:
            return False
        if begin >= self.begins[column] + len(self.columns[column].mark):
            return True
        return following is not None and bisect_right(self.begins, following) - 1 <= last

    def _crowd(self, row: str, begin: int, text: str, column: int) -> None:
        if column not in self.crowded:
            self.crowded.add(column)
            mark = self.columns[column].mark
            what = f'"{text}" is the second cell under one count ({mark})'
            self.wrong(row, begin, what, hint="Write the count that it is played on over it")

    def ranges(self, row: str, carried: bool) -> dict[int, tuple[int, str]]:
        """The columns that a mute or ring row marks: (character, mark) by column."""
        found: dict[int, tuple[int, str]] = {}
        before = -1
        for span in read_spans(self.cells[row], carried)[0]:
            column = bisect_right(self.begins, span.begin) - 1
            if not span.word:
                column = max(column, 0)
            if column < 0:
                self.wrong(row, span.begin, f'"{span.word}" stands under no count', hint="Move it under its count")
            elif column == before:
                self._crowd(row, span.begin, span.word, column)
            else:
                last = bisect_left(self.begins, span.end) - 1 if span.ranged else column
                found |= dict.fromkeys(range(column, max(last, column) + 1), (span.begin, span.word))
                before = last
        return found

    def places(self, row: str) -> list[tuple[int, int, str]]:
        """As `under`, for marks that may run on over the columns after theirs and may hold hyphens."""
        found = []
        before = -1
        for token in _WORD.finditer(self.cells[row]):
            column = bisect_right(self.begins, token.start()) - 1
            if not token[0].strip("-"):
                continue
            if column < 0:
                self.wrong(row, token.start(), f'"{token[0]}" stands under no count', hint="Move it under a count")
            elif column == before:
                self._crowd(row, token.start(), token[0], column)
            else:
                found.append((column, token.start(), token[0]))
            before = column
        return found

    def tempos(self) -> tuple[BarTempo, ...]:
        marks = []
        for column, begin, text in self.places("tempo") if "tempo" in self.cells else ():
            found = _TEMPO.fullmatch(text)
            bpm = Fraction(found[2]) if found else Fraction(0)
            if not found or not SLOWEST_BPM <= bpm <= FASTEST_BPM:
                allowed = f"{SLOWEST_BPM} to {FASTEST_BPM}, or >168 for gradually"
                self.wrong("tempo", begin, f'"{text}" is not a tempo', allowed)
                continue
            marks.append(BarTempo(self.columns[column].offset, bpm, bool(found[1]), begin))
        return tuple(marks)


def read_drum_bar(cells: Cells, meter: Meter) -> ReadBar:
    """Read a bar written for the kit."""
    reader = _Reader(cells, meter)
    hits: dict[int, list[Hit]] = {}
    if reader.columns:
        for piece in KIT:
            for column, _, force in reader.under(piece, _stroke) if piece in cells else ():
                hits.setdefault(column, []).append(Hit(piece, force))
    moments = tuple(DrumMoment(reader.columns[c].offset, tuple(hits[c])) for c in sorted(hits))
    tempos = reader.tempos() if reader.columns else ()
    return ReadBar(drums=moments, tempos=tempos, problems=tuple(reader.problems))


def _stroke(text: str) -> Force:
    """How a token in a row of the kit says a piece is struck."""
    try:
        return Force(text)
    except ValueError:
        raise CellError(f'"{text}" is not a stroke', "x hit, X accented, o ghost") from None


def read_string_bar(
    cells: Cells, meter: Meter, instrument: Instrument, carried: Collection[str] = frozenset()
) -> ReadBar:
    """Read a bar written on strings.

    Args:
        cells: its rows.
        meter: its meter.
        instrument: the neck it is played on.
        carried: mark rows in which a range goes on from the bar before.
    """
    reader = _Reader(cells, meter)
    if not reader.columns:
        return ReadBar(problems=tuple(reader.problems))
    notes: dict[int, list[Note]] = {}
    rests: dict[int, tuple[str, int]] = {}
    for row in cells:
        if not row.isdigit():
            continue
        string = int(row)
        for column, begin, note in reader.under(row, partial(_note_or_rest, string, instrument.last_fret)):
            if note is None:
                rests[column] = (row, begin)
            else:
                notes.setdefault(column, []).append(note)
    for column in rests.keys() & notes.keys():
        row, begin = rests[column]
        reader.wrong(row, begin, "a rest and a note on one count", hint="A rest ends every string of the part")
    marks = _marks(reader, notes, carried)
    moments = []
    for column in sorted({*notes, *rests, *marks["chord"]}):
        played = tuple(sorted(notes.get(column, ()), key=lambda note: note.string))
        fingers = marks["finger"].get(column)
        moments.append(
            Moment(
                offset=reader.columns[column].offset,
                notes=_fingered(reader, played, fingers) if fingers else played,
                rest=column in rests,
                mute=column in marks["mute"],
                ring=column in marks["ring"],
                accent=marks["accent"][column][1] if column in marks["accent"] else "",
                pick=marks["pick"][column][1] if column in marks["pick"] else "",
                chord=marks["chord"][column][1] if column in marks["chord"] else "",
            )
        )
    return ReadBar(moments=tuple(moments), tempos=reader.tempos(), problems=tuple(reader.problems))


def _note_or_rest(string: int, last_fret: int, text: str) -> Note | None:
    return None if text == REST else read_cell(text, string, last_fret)


def _mark(row: str, text: str) -> str:
    """A token of a mark row that has a choice."""
    pattern, words = MARK_CHOICES[row]
    if not re.fullmatch(pattern, text):
        raise CellError(f'"{text}" is not a mark of the {row} row', words)
    return text


def _marks(
    reader: _Reader, notes: Mapping[int, object], carried: Collection[str]
) -> dict[str, dict[int, tuple[int, str]]]:
    """For each mark row the marks by column: (character, text)."""
    found: dict[str, dict[int, tuple[int, str]]] = {row: {} for row in (*NOTE_MARKS, *PLACE_MARKS)}
    for row in RANGE_ROWS:
        if row in reader.cells:
            marks = reader.ranges(row, row in carried)
            found[row] = {column: mark for column, mark in marks.items() if column in notes}
    for row in MARK_CHOICES:
        for column, begin, text in reader.under(row, partial(_mark, row)) if row in reader.cells else ():
            if column in notes:
                found[row][column] = (begin, text)
            elif not reader.problems:
                hint = "A mark applies to what starts in its column"
                reader.wrong(row, begin, f'"{text}" in the {row} row marks no note', hint=hint)
    for column, begin, text in reader.places("chord") if "chord" in reader.cells else ():
        if is_printable(text):
            found["chord"][column] = (begin, text)
        else:
            reader.wrong("chord", begin, "a chord name with a control character")
    return found


def _fingered(reader: _Reader, played: tuple[Note, ...], mark: tuple[int, str]) -> tuple[Note, ...]:
    """The notes with their fingers: one for all that are fretted, or one for each from the thickest string."""
    begin, text = mark
    fretted = [note for note in reversed(played) if note.fret > 0]
    if len(text) not in (1, len(fretted)):
        what = f'"{text}" names {len(text)} fingers for {len(fretted)} fretted strings'
        reader.wrong("finger", begin, what, hint="Write one finger, or one for each, thickest string first")
        return played
    fingers = dict(zip((note.string for note in fretted), text * len(fretted) if len(text) == 1 else text, strict=True))
    return tuple(replace(note, finger=fingers.get(note.string, "")) for note in played)
