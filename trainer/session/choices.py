"""What the player has chosen for a riff, as one frozen value: kept for every riff, and found again the next day.

The functions below make other choices from choices: who is heard, how loud, whose part is mine.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Annotated, Any, Self

from trainer.playback.mix import CLICK, Mix
from trainer.practice.methods import SILENT_DB, FadingGuide
from trainer.practice.passes import MOST_BARS
from trainer.values import as_understood, sparse, within

GUIDE = "guide"
"""What can be chosen besides the parts and the click: my part as it is played along for me."""


class Method(StrEnum):
    """How the loop is practised; the values are those that passes are logged with."""

    PLAIN = ""
    LADDER = "ladder"
    FRONT = "building"
    END = "building from the end"
    BURST = "burst"


class View(StrEnum):
    """Which parts are drawn."""

    BOTH = "both guitars"
    MINE = "my part"
    ALL = "all parts"


class Pane(StrEnum):
    """Whether a pane that not every window has room for is shown."""

    ROOM = "where there is room"
    ON = "on"
    OFF = "off"


@dataclass(frozen=True, slots=True)
class Choices:
    """A session's settings for one riff of one exercise."""

    mine: str = ""
    """My part; empty: the first one on strings."""
    first: Annotated[int, within(0, MOST_BARS)] = 0
    """The loop's first bar, counted from 0."""
    last: Annotated[int, within(-1, MOST_BARS)] = -1
    """The loop's last bar; -1: the riff's."""
    bpm: Fraction = Fraction(0)
    """The tempo of plain looping, to a hundredth; 0: the start of the ladder."""
    unheard: tuple[str, ...] = ()
    levels: tuple[tuple[str, Annotated[float, within(-60, 12)]], ...] = ()
    """In dB, by part."""
    pans: tuple[tuple[str, Annotated[float, within(-1, 1)]], ...] = ()
    """From -1 (left) to 1 (right), by part; the others are where their patches put them."""
    click: str = "beats"
    """A click pattern's name; empty: no click."""
    silent_bars: str = ""
    """As "2:1": two bars with the click, one without."""
    count_in: Annotated[int, within(0, 4)] = 1
    between: bool = False
    """Whether every pass is counted in."""
    method: Method = Method.PLAIN
    fading: bool = False
    guide_db: Annotated[float, within(-60, 12)] = 0.0
    """The guide's level as the player set it, on top of the fading."""
    swap_every: Annotated[int, within(0, 1000)] = 0
    view: View = View.BOTH
    quality: bool = False
    neck: Pane = Pane.ROOM
    prose: Pane = Pane.ROOM
    explain: Pane = Pane.OFF
    """On, the explanation takes the place of the prose."""

    def as_dict(self) -> dict[str, Any]:
        """As plain values for JSON; what is as usual is left out."""
        return {_KEPT_AS.get(name, name): value for name, value in sparse(self).items()}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> Self:
        """What `as_dict` gave; whatever is not understood has its usual value."""
        names = {kept_as: name for name, kept_as in _KEPT_AS.items()}
        found = as_understood(cls, {names.get(key, key): value for key, value in values.items()})
        return found if 0 <= found.bpm <= MOST_BPM else replace(found, bpm=Fraction(0))


_KEPT_AS = {"method": "way"}
"""Names in the file that differ from the names here, as 0.1.0 wrote them."""
MOST_BPM = 1000
"""More than any tempo that can be chosen."""


def to_hundredth(bpm: float | Fraction) -> Fraction:
    """A tempo as the exact value it is kept and played by: to a hundredth of a bpm.

    >>> to_hundredth(98.5)
    Fraction(197, 2)
    """
    return Fraction(round(bpm * 100), 100)


# -- who is heard -----------------------------------------------------------------------------------------------


def mix_of(choices: Choices, guide: FadingGuide, mine: str) -> Mix:
    """The mix that the choices ask for.

    Args:
        choices: who is silent, and levels by part, "click" included.
        guide: how far the guide has faded.
        mine: my part; with the fading guide it is heard as loud as the guide is, whoever else is silent.
    """
    unheard = frozenset(choices.unheard)
    levels = dict(choices.levels)
    if choices.fading and mine:
        level = levels.get(mine, 0.0) + choices.guide_db + guide.level_db
        unheard = unheard | {mine} if guide.level_db <= SILENT_DB else unheard - {mine}
        levels[mine] = _within(level)
    return Mix(unheard, tuple(sorted(levels.items())), choices.pans)


def toggled(choices: Choices, part: str) -> Choices:
    """A part is heard if it was silent, and silent if it was heard."""
    if part in choices.unheard:
        return replace(choices, unheard=tuple(name for name in choices.unheard if name != part))
    return replace(choices, unheard=(*choices.unheard, part))


def only(choices: Choices, part: str, parts: Sequence[str]) -> Choices:
    """Just one part is heard, beside the click when that was heard; once more, and all are."""
    silent = tuple(name for name in parts if name not in (part, CLICK))
    if set(silent) | ({CLICK} & set(choices.unheard)) == set(choices.unheard):
        return replace(choices, unheard=())
    return replace(choices, unheard=silent + ((CLICK,) if CLICK in choices.unheard else ()))


def traded(choices: Choices, mine: str, other: str) -> Choices:
    """The choices with two parts the other way round: mine is the other, and whoever was silent trades places too."""
    names = {mine: other, other: mine}
    return replace(choices, mine=other, unheard=tuple(names.get(name, name) for name in choices.unheard))


def levelled(choices: Choices, part: str, step_db: float) -> Choices:
    """A part, the click or the guide louder or softer by a step, within -60 to 12 dB."""
    if part == GUIDE:
        return replace(choices, guide_db=_within(choices.guide_db + step_db))
    levels = dict(choices.levels)
    levels[part] = _within(levels.get(part, 0.0) + step_db)
    return replace(choices, levels=tuple(sorted((name, level) for name, level in levels.items() if level)))


def _within(level_db: float) -> float:
    return max(-60.0, min(12.0, level_db))
