"""What a harmony block may say beside its interval: motion, range, frets, what to avoid, and the bars it leads in."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from trainer.music.instrument import MAX_FRETS
from trainer.music.part import HarmonyPart
from trainer.music.pitch import Pitch
from trainer.music.problem import nearest
from trainer.notation.toml_table import Table

KEYS = ("motion", "range", "frets", "avoid", "leads")
MOTIONS = ("parallel", "contrary")
CHORD = "chord"
"""The word in `avoid` that stands for the chord names."""

_BARS = re.compile(r"(\d{1,5})(?:\s*-\s*(\d{1,5}))?")


@dataclass(frozen=True, slots=True)
class HarmonyOptions:
    """The options of one block, as `trainer.music.part.HarmonyPart` keeps them."""

    contrary: bool = False
    within: tuple[Pitch, Pitch] | None = None
    frets: tuple[int, int] | None = None
    avoid: tuple[str, ...] = ()
    leads: tuple[tuple[int, int], ...] = ()


def read_options(table: Table, parts: Sequence[str], bars: int) -> HarmonyOptions:
    """Read the options of a harmony block; what cannot be used is reported and left out.

    Args:
        table: the block's table.
        parts: the names of the riff's other parts.
        bars: how many bars the riff has.
    """
    motion = table.parse("motion", _one_of(MOTIONS), "parallel", ", ".join(MOTIONS), _near_motion)
    within = table.parse("range", _range, None, 'two pitches, low to high, such as "E3 E5"')
    frets = table.parse("frets", _frets, None, f'two frets up to {MAX_FRETS}, such as "5-9"')
    none: tuple[tuple[int, int], ...] = ()
    leads = table.parse("leads", lambda text: _bars(text, bars), none, f'bars from 1 to {bars}, such as "3-4, 7"')
    return HarmonyOptions(motion == "contrary", within, frets, _avoid(table, parts), leads)


def option_values(part: HarmonyPart) -> dict[str, Any]:
    """The keys and values that a part's options are written as; those in force anyway are left out."""
    values: dict[str, Any] = {}
    if part.contrary:
        values["motion"] = "contrary"
    if part.within:
        values["range"] = f"{part.within[0]} {part.within[1]}"
    if part.frets:
        values["frets"] = f"{part.frets[0]}-{part.frets[1]}"
    if part.avoid:
        values["avoid"] = list(part.avoid)
    if part.leads:
        values["leads"] = ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in part.leads)
    return values


def _avoid(table: Table, parts: Sequence[str]) -> tuple[str, ...]:
    found = []
    for name in table.texts("avoid"):
        if name != CHORD and name not in parts:
            meant = nearest(name, [*parts, CHORD])
            hint = f'Did you mean "{meant}"' if meant else ""
            table.problem("avoid", f'part "{name}" is not in this riff', ", ".join([*parts, CHORD]), hint)
            continue
        found.append(name)
    return tuple(dict.fromkeys(found))


def _near_motion(text: str) -> str:
    return nearest(text, MOTIONS)


def _one_of(words: Sequence[str]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in words:
            raise ValueError(text)
        return text

    return read


def _range(text: str) -> tuple[Pitch, Pitch]:
    low, high = (Pitch.parse(word) for word in text.split())
    if low.midi > high.midi:
        raise ValueError(text)
    return low, high


def _frets(text: str) -> tuple[int, int]:
    found = _BARS.fullmatch(text.strip())
    if not found or not found[2] or not int(found[1]) <= int(found[2]) <= MAX_FRETS:
        raise ValueError(text)
    return int(found[1]), int(found[2])


def _bars(text: str, bars: int) -> tuple[tuple[int, int], ...]:
    found = []
    for piece in text.split(","):
        match = _BARS.fullmatch(piece.strip())
        if not match or not 1 <= int(match[1]) <= int(match[2] or match[1]) <= bars:
            raise ValueError(text)
        found.append((int(match[1]), int(match[2] or match[1])))
    return tuple(found)
