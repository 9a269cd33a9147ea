"""Which rows a system has: counts, strings, marks, the interval line; and what a low window leaves out."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from trainer.music.note import KIT
from trainer.music.part import DrumPart, TabPart
from trainer.playback.piece import Piece


class RowKind(StrEnum):
    """What a row of a system shows."""

    HEAD = "head"
    COUNT = "count"
    CHORD = "chord"
    ACCENT = "accent"
    STRING = "string"
    DRUM = "drum"
    MUTE = "mute"
    RING = "ring"
    PICK = "pick"
    FINGER = "finger"
    INTERVAL = "interval"
    GAP = "gap"


@dataclass(frozen=True, slots=True)
class StaffRow:
    """One row of every system."""

    kind: RowKind
    part: str = ""
    """The part it belongs to; for the interval line the upper one."""
    string: int = 0
    """For a string's row, 1 the thinnest."""
    piece: str = ""
    """For a drum's row."""
    other: str = ""
    """For the interval line the lower part."""


ABOVE = (RowKind.CHORD, RowKind.ACCENT)
BELOW = (RowKind.MUTE, RowKind.RING, RowKind.PICK, RowKind.FINGER)
"""Mark rows over and under the strings, in this order."""

GIVEN_UP = (
    RowKind.GAP,
    RowKind.RING,
    RowKind.FINGER,
    RowKind.CHORD,
    RowKind.ACCENT,
    RowKind.HEAD,
    RowKind.PICK,
    RowKind.MUTE,
)
"""What is left out when there are too few lines, first things first."""
OWN_GIVEN_UP = (*(kind for kind in GIVEN_UP if kind is not RowKind.FINGER), RowKind.FINGER)
"""What the first part loses in turn where not even it fits alone."""


@dataclass(frozen=True, slots=True)
class Staff:
    """The rows of every system, and how many systems fit."""

    rows: tuple[StaffRow, ...]
    slots: int
    """How many systems are seen at once, at least 1."""
    parts: tuple[str, ...]
    """The parts that are drawn; fewer than asked for if the window is too low."""

    @property
    def height(self) -> int:
        """Rows of a system, with the empty one below it."""
        return len(self.rows) + 1


@dataclass(frozen=True, slots=True)
class StaffRows:
    """How many rows a system takes, and how few it can take without losing what matters."""

    whole: int
    """With everything that is written."""
    lean: int
    """With every string of every part, and all marks of the first part only."""
    own: int
    """With the first part alone, and all its marks."""


def staff_rows(piece: Piece, parts: Sequence[str]) -> StaffRows:
    """Count the rows of a system of some parts, the most important part first."""
    if not parts:
        return StaffRows(0, 0, 0)
    rows = _rows_for(piece, parts)
    kept = [row for row in rows if row.kind not in GIVEN_UP or row.part == parts[0]]
    return StaffRows(len(rows), len(kept), len(_rows_for(piece, parts[:1])))


def staff_for(piece: Piece, parts: Sequence[str], height: int, systems: int = 1) -> Staff:
    """Choose the richest staff of which at least one system fits.

    What is left out first are the other parts' marks, then the other parts from the last one on; the first part loses a
    mark only where it stands alone and still does not fit, its fingers last.

    Args:
        piece: the music.
        parts: the parts to draw, the most important one first.
        height: lines of the window.
        systems: the most systems there will be.
    """
    for wanted in (parts[:count] for count in range(len(parts), 0, -1)):
        shown = tuple(name for name in piece.part_names if name in wanted)
        rows = _rows_for(piece, wanted)
        for kind in (None, *GIVEN_UP):
            rows = [row for row in rows if row.kind is not kind or row.part == parts[0]]
            if len(rows) <= height:
                slots = max(1, min((height + 1) // (len(rows) + 1), systems))
                return Staff(tuple(rows), slots, shown)
    rows = _rows_for(piece, parts[:1])
    for kind in OWN_GIVEN_UP:
        rows = [row for row in rows if row.kind is not kind]
        if len(rows) <= height:
            break
    return Staff(tuple(rows[:height]), 1, tuple(parts[:1]))


@lru_cache(maxsize=16)
def _rows_of(piece: "_Same", names: tuple[str, ...]) -> tuple[StaffRow, ...]:
    return tuple(_all_rows(piece.piece, names))


class _Same:
    """A piece compared by identity: comparing its notes would take longer than drawing them."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.piece is self.piece

    def __hash__(self) -> int:
        return id(self.piece)


def _rows_for(piece: Piece, parts: Sequence[str]) -> list[StaffRow]:
    """The rows of a system of these parts in their order on paper, when nothing is left out."""
    return list(_rows_of(_Same(piece), tuple(name for name in piece.part_names if name in parts)))


def _all_rows(piece: Piece, names: Sequence[str]) -> list[StaffRow]:
    rows = [StaffRow(RowKind.HEAD)] if len(piece.riffs) > 1 else []
    rows.append(StaffRow(RowKind.COUNT))
    before = ""
    for name in names:
        kinds = _marks(piece, name)
        strings, pieces = _strings(piece, name), _pieces(piece, name)
        if before and strings:
            rows.append(StaffRow(RowKind.INTERVAL, before, other=name))
        elif before or (rows[-1].kind not in (RowKind.COUNT, RowKind.INTERVAL)):
            rows.append(StaffRow(RowKind.GAP))
        rows += [StaffRow(kind, name) for kind in ABOVE if kind in kinds]
        rows += [StaffRow(RowKind.STRING, name, string=string) for string in range(1, strings + 1)]
        rows += [StaffRow(RowKind.DRUM, name, piece=piece) for piece in pieces]
        rows += [StaffRow(kind, name) for kind in BELOW if kind in kinds]
        before = name if strings else ""
    return rows


def _tabs(piece: Piece, name: str) -> list[TabPart]:
    riffs = {id(played.riff): played.riff for played in piece.riffs}.values()
    return [part for riff in riffs if isinstance(part := riff.part(name), TabPart)]


def _strings(piece: Piece, name: str) -> int:
    return max((part.instrument.strings for part in _tabs(piece, name)), default=0)


def _pieces(piece: Piece, name: str) -> list[str]:
    """The pieces of the kit that a part strikes, from the top of the kit down."""
    riffs = {id(played.riff): played.riff for played in piece.riffs}.values()
    drums = [part for riff in riffs if isinstance(part := riff.part(name), DrumPart)]
    struck = {hit.piece for part in drums for bar in part.bars for moment in bar for hit in moment.hits}
    return [piece for piece in reversed(KIT) if piece in struck]


def _marks(piece: Piece, name: str) -> frozenset[RowKind]:
    """The kinds of mark that a part has anywhere in the piece."""
    found: set[RowKind] = set()
    for part in _tabs(piece, name):
        for bar in part.bars:
            for moment in bar:
                marks = {
                    RowKind.CHORD: moment.chord,
                    RowKind.ACCENT: moment.accent,
                    RowKind.MUTE: moment.mute,
                    RowKind.RING: moment.ring,
                    RowKind.PICK: moment.pick,
                    RowKind.FINGER: any(note.finger for note in moment.notes),
                }
                found |= {kind for kind, there in marks.items() if there}
    return frozenset(found)
