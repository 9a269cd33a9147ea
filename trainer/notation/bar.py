"""One bar of a tab block: cells under counts become moments."""

import re
from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from trainer.music.instrument import Instrument
from trainer.music.meter import Meter
from trainer.music.note import KIT, DrumMoment, Force, Hit, Moment, Note
from trainer.music.printable import is_printable
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.notation.cell import REST, CellError, read_cell
from trainer.notation.count import Column, CountError, read_counts
from trainer.notation.system import COUNT, NOTE_MARKS, PLACE_MARKS, SIMILE

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
        try:
            self.columns = read_counts(cells[COUNT], meter)
        except CountError as error:
            self.wrong(COUNT, error.begin, error.what, error.allowed, error.hint)
        self.begins = [column.begin for column in self.columns]

    def wrong(self, row: str, begin: int, what: str, allowed: str = "", hint: str = "") -> None:
        self.problems.append(BarProblem(row, begin, what, allowed, hint))

    def under(self, row: str) -> list[tuple[int, int, str]]:
        """A row's tokens as (index of the column, character, text); problems for those under no count or two."""
        found = []
        last = len(self.begins) - 1
        for begin, end, text in _tokens(self.cells[row]):
            column = bisect_right(self.begins, begin) - 1
            if column < 0:
                self.wrong(row, begin, f'"{text}" stands under no count', hint="Move it under its count")
            elif column < last and end > self.begins[column + 1]:
                marks = f"{self.columns[column].mark} and {self.columns[column + 1].mark}"
                self.wrong(row, begin, f'"{text}" runs over two counts ({marks})', hint="Give the column more room")
            else:
                found.append((column, begin, text))
        return found

    def places(self, row: str) -> list[tuple[int, int, str]]:
        """As `under`, for marks that may run on over the columns after theirs and may hold hyphens."""
        found = []
        for token in _WORD.finditer(self.cells[row]):
            column = bisect_right(self.begins, token.start()) - 1
            if not token[0].strip("-"):
                continue
            if column < 0:
                self.wrong(row, token.start(), f'"{token[0]}" stands under no count', hint="Move it under a count")
            else:
                found.append((column, token.start(), token[0]))
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
            for column, begin, text in reader.under(piece) if piece in cells else ():
                try:
                    hits.setdefault(column, []).append(Hit(piece, Force(text)))
                except ValueError:
                    reader.wrong(piece, begin, f'"{text}" is not a stroke', "x hit, X accented, o ghost")
    moments = tuple(DrumMoment(reader.columns[c].offset, tuple(hits[c])) for c in sorted(hits))
    tempos = reader.tempos() if reader.columns else ()
    return ReadBar(drums=moments, tempos=tempos, problems=tuple(reader.problems))


def read_string_bar(cells: Cells, meter: Meter, instrument: Instrument) -> ReadBar:
    """Read a bar written on strings."""
    reader = _Reader(cells, meter)
    if not reader.columns:
        return ReadBar(problems=tuple(reader.problems))
    notes: dict[int, list[Note]] = {}
    rests: dict[int, tuple[str, int]] = {}
    for row in cells:
        if not row.isdigit():
            continue
        for column, begin, text in reader.under(row):
            if text == REST:
                rests[column] = (row, begin)
                continue
            try:
                notes.setdefault(column, []).append(read_cell(text, int(row), instrument.last_fret))
            except CellError as error:
                reader.wrong(row, begin, error.what, error.allowed, error.hint)
    for column in rests.keys() & notes.keys():
        row, begin = rests[column]
        reader.wrong(row, begin, "a rest and a note on one count", hint="A rest ends every string of the part")
    marks = _marks(reader, notes, rests)
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


def _marks(
    reader: _Reader, notes: Mapping[int, object], rests: Mapping[int, object]
) -> dict[str, dict[int, tuple[int, str]]]:
    """For each mark row the marks by column: (character, text)."""
    found: dict[str, dict[int, tuple[int, str]]] = {row: {} for row in (*NOTE_MARKS, *PLACE_MARKS)}
    read: Callable[[str], list[tuple[int, int, str]]]
    for row in (*NOTE_MARKS, "chord"):
        if row not in reader.cells:
            continue
        read = reader.places if row == "chord" else reader.under
        pattern, words = MARK_CHOICES.get(row, ("", ""))
        for column, begin, text in read(row):
            if pattern and not re.fullmatch(pattern, text):
                reader.wrong(row, begin, f'"{text}" is not a mark of the {row} row', words)
            elif row == "chord" and not is_printable(text):
                reader.wrong(row, begin, "a chord name with a control character")
            elif row not in ("chord", "ring", "mute") and column not in notes and not reader.problems:
                hint = "A mark applies to what starts in its column"
                reader.wrong(row, begin, f'"{text}" in the {row} row marks no note', hint=hint)
            elif column in notes or row == "chord":
                found[row][column] = (begin, text)
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
