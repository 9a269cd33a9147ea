"""What the player has chosen on the stand, as a value: kept for every riff, and found again the next day."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from enum import StrEnum
from fractions import Fraction
from typing import Any, NamedTuple, Self


class Way(StrEnum):
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
    """The stand's settings for one riff of one exercise."""

    mine: str = ""
    """My part; empty: the first one on strings."""
    first: int = 0
    """The loop's first bar, counted from 0."""
    last: int = -1
    """The loop's last bar; -1: the riff's."""
    bpm: float = 0.0
    """The tempo of plain looping; 0: the start of the ladder."""
    unheard: tuple[str, ...] = ()
    levels: tuple[tuple[str, float], ...] = ()
    """In dB, by part."""
    click: str = "beats"
    """A click pattern's name; empty: no click."""
    silent_bars: str = ""
    """As "2:1": two bars with the click, one without."""
    count_in: int = 1
    between: bool = False
    """Whether every pass is counted in."""
    way: Way = Way.PLAIN
    fading: bool = False
    guide_db: float = 0.0
    """The guide's level as the player set it, on top of the fading."""
    swap_every: int = 0
    view: View = View.BOTH
    quality: bool = False
    neck: Pane = Pane.ROOM
    prose: Pane = Pane.ROOM
    explain: Pane = Pane.OFF
    """On, the explanation takes the place of the prose."""

    def as_dict(self) -> dict[str, Any]:
        """As plain values for JSON; what is as usual is left out."""
        usual = type(self)()
        return {k: _plain(v) for k, v in asdict(self).items() if v != getattr(usual, k)}

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> Self:
        """What `as_dict` gave; whatever is not understood has its usual value."""
        kept: dict[str, Any] = {}
        for each in fields(cls):
            reader = _READERS[each.name]
            try:
                if each.name in values:
                    kept[each.name] = reader(values[each.name])
            except (TypeError, ValueError, KeyError):
                continue
        return cls(**kept)


class Begin(NamedTuple):
    """How a plan asks for a riff to be begun, whatever was chosen for it before."""

    way: Way
    bar: int | None = None
    """The one bar to loop, counted from 1; None for the whole riff."""
    tempo_bpm: float | None = None
    """The tempo of plain looping; the ladder has its own."""


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, StrEnum) else value


def _level(value: Any) -> float:
    number = float(value)
    if not -60 <= number <= 12:
        raise ValueError(value)
    return number


def _bpm(value: Any) -> float:
    number = float(value)
    if not 0 <= number <= 1000:
        raise ValueError(value)
    return number


_READERS: dict[str, Any] = {
    "mine": str,
    "first": lambda value: max(0, int(value)),
    "last": lambda value: max(-1, int(value)),
    "bpm": _bpm,
    "unheard": lambda value: tuple(str(name) for name in value),
    "levels": lambda value: tuple((str(name), _level(db)) for name, db in value),
    "click": str,
    "silent_bars": str,
    "count_in": lambda value: min(4, max(0, int(value))),
    "between": bool,
    "way": Way,
    "fading": bool,
    "guide_db": _level,
    "swap_every": lambda value: max(0, int(value)),
    "view": View,
    "quality": bool,
    "neck": Pane,
    "prose": Pane,
    "explain": Pane,
}


def share_of(bpm: float, target_bpm: Fraction) -> Fraction:
    """A tempo as a share of a target; tempos are kept to a hundredth of a bpm."""
    return Fraction(round(bpm * 100), 100) / target_bpm
