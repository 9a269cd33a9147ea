"""Which rows a system has: counts, strings, marks, the interval line; and what is left out when the window is low."""

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
"""What is left out first when there are too few lines."""


@dataclass(frozen=True, slots=True)
class Staff:
    """The rows of every system, and how many systems fit."""

    rows: tuple[StaffRow, ...]
    slots: int
    """Systems that are seen at once, at least 1."""
    parts: tuple[str, ...]
    """The parts that are drawn; fewer than asked for where the window is too low for them."""

    @property
    def height(self) -> int:
        """Rows of a system with the empty one below it."""
        return len(self.rows) + 1


def staff_for(piece: Piece, parts: Sequence[str], height: int, systems: int = 1) -> Staff:
    """The richest staff of which at least one system fits.

    Args:
        piece: the music.
        parts: the parts to draw, the most important one first.
        height: lines that there are.
        systems: systems that there will be at most.
    """
    shown = [name for name in piece.part_names if name in parts]
    wanted = list(parts)
    fingered = bool(parts) and RowKind.FINGER in _marks(piece, parts[0])
    while True:
        rows = list(_rows_of(_Same(piece), tuple(name for name in shown if name in wanted)))
        for kind, own in _given_up(fingered):
            rows = [row for row in rows if row.kind is not kind or (row.part == parts[0] and not own)]
            if len(rows) <= height:
                slots = max(1, min((height + 1) // (len(rows) + 1), systems))
                return Staff(tuple(rows), slots, tuple(name for name in shown if name in wanted))
        if len(wanted) <= 1:
            return Staff(tuple(rows[:height]), 1, tuple(wanted))
        wanted.pop()


def _given_up(fingered: bool) -> list[tuple[RowKind | None, bool]]:
    """Which marks are left out in turn, and whether the first part's are too.

    Args:
        fingered: the first part has fingers: then it keeps its marks longer than the others, and its fingers longest.
    """
    if not fingered:
        return [(None, True), *((kind, True) for kind in GIVEN_UP)]
    own = [*(kind for kind in GIVEN_UP if kind is not RowKind.FINGER), RowKind.FINGER]
    return [(None, True), *((kind, False) for kind in GIVEN_UP), *((kind, True) for kind in own)]


@lru_cache(maxsize=16)
def _rows_of(piece: "_Same", names: tuple[str, ...]) -> tuple[StaffRow, ...]:
    return tuple(_all_rows(piece.piece, names))


class _Same:
    """A piece that is known by being the same object: comparing its notes would take longer than drawing them."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.piece is self.piece

    def __hash__(self) -> int:
        return id(self.piece)


def staff_rows(piece: Piece, parts: Sequence[str]) -> int:
    """Rows that a system has when nothing is left out."""
    return len(_rows_of(_Same(piece), tuple(name for name in piece.part_names if name in parts)))


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
    """The pieces of the kit that are struck, from the top of the kit to its bottom."""
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
