"""One cell of a tab: a note on a string with its techniques, read and written."""

import re
from functools import lru_cache

from trainer.music.instrument import HARMONICS
from trainer.music.note import Attack, Note, Touch
from trainer.notation.cell_slips import slip_hint

REST = "r"
ALLOWED = (
    "a fret, x dead, r rest; before a fret h hammer-on, p pull-off, / slide up, \\ slide down, t tap; "
    "after it b9 bend, b9r7 bend and release, ~ vibrato, . short; <12> natural harmonic"
)

MOST_BEND = 7
"""Semitones of a bend; four are far for fingers, and what is told is mostly a number misread."""

CELL = re.compile(
    r"(?P<attack>[hpt/\\])?(?:(?P<fret>0|[1-9]\d{0,2})|(?P<dead>x)|<(?P<harmonic>[1-9]\d{0,2})>)"
    r"(?:b(?P<bend>[1-9]\d{0,2})(?:r(?P<release>0|[1-9]\d{0,2}))?)?(?P<vibrato>~)?(?P<short>\.)?"
)
"""A note on a string, with its techniques."""


class CellError(Exception):
    """A cell that cannot be read: what is wrong, what is allowed, what to do."""

    def __init__(self, what: str, allowed: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.what, self.allowed, self.hint = what, allowed, hint


@lru_cache(maxsize=8192)
def read_cell(text: str, string: int, last_fret: int) -> Note:
    """The note that a cell says.

    Args:
        text: the cell, without filler.
        string: the string of its row.
        last_fret: the highest fret that can be written.

    Raises:
        CellError: for anything that is not a note of this string.
    """
    found = CELL.fullmatch(text)
    if not found:
        hint = slip_hint(text)
        raise CellError(f'"{text}" is not a note', "" if hint else ALLOWED, hint)
    dead, harmonic, bend = found["dead"], found["harmonic"], found["bend"]
    fret = int(found["fret"] or harmonic or 0)
    if (dead or harmonic) and (bend or found["attack"]):
        raise CellError(f'"{text}": a {"dead note" if dead else "harmonic"} is neither bent, hammered nor slid to')
    if dead and found["vibrato"]:
        raise CellError(f'"{text}": a dead note has no vibrato')
    for number in (fret, int(bend or 0), int(found["release"] or 0)):
        if number > last_fret:
            raise CellError(f"fret {number} is beyond the neck", f"0 to {last_fret}")
    if harmonic and fret not in HARMONICS:
        raise CellError(f"no natural harmonic over fret {fret}", ", ".join(f"<{fret}>" for fret in HARMONICS))
    if bend and int(bend) <= fret:
        hint = f"Bend up: {fret}b{fret + 2}"
        raise CellError(f'"{text}" bends to fret {bend}, which is not above fret {fret}', hint=hint)
    if bend and int(bend) - fret > MOST_BEND:
        what = f'"{text}" bends by {int(bend) - fret} semitones'
        raise CellError(what, f"at most {MOST_BEND}", "The number after b is the fret whose pitch is reached")
    if bend and not fret:
        raise CellError(f'"{text}": an open string cannot be bent')
    if found["release"] and not fret <= int(found["release"]) < int(bend):
        raise CellError(f'"{text}" releases to fret {found["release"]}', f"{fret} to {int(bend) - 1}")
    return Note(
        string=string,
        fret=fret,
        attack=Attack(found["attack"] or ""),
        touch=Touch.DEAD if dead else Touch.HARMONIC if harmonic else Touch.FRETTED,
        bend=int(bend) if bend else None,
        release=int(found["release"]) if found["release"] else None,
        vibrato=bool(found["vibrato"]),
        short=bool(found["short"]),
    )


def write_cell(note: Note) -> str:
    """The cell that says a note."""
    body = {Touch.DEAD: "x", Touch.HARMONIC: f"<{note.fret}>"}.get(note.touch, str(note.fret))
    bend = f"b{note.bend}" if note.bend is not None else ""
    release = f"r{note.release}" if note.release is not None else ""
    return f"{note.attack.value}{body}{bend}{release}{'~' * note.vibrato}{'.' * note.short}"
