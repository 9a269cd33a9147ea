"""What a kept take says about itself: the value, and the JSON beside the sound that it is read from and written to."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Final, NamedTuple

NO_CLICK: Final = "none"
"""Stands for no click in the JSON, where a missing click pattern is one that is not known."""
_ALWAYS: Final = frozenset({"exercise", "riff", "part", "passes", "start_known"})
"""Keys that are written even when they are as usual."""
_NAMES: Final = {"logged_pass": "pass"}
"""Keys of the JSON that cannot be names in Python."""


class TakeComment(NamedTuple):
    """What a teacher says about a take."""

    text: str
    teacher: str = ""
    source: str = ""
    """The set in which it came; empty where it was written here."""


@dataclass(frozen=True, slots=True)
class TakeInfo:
    """Which music a take is a recording of, and how it was heard. Whatever is not known has its usual value.

    >>> info = TakeInfo(exercise="iron-causeway", riff="Low road", part="guitar 1", tempo_bpm=96.0, click="")
    >>> info.as_json()["click"]
    'none'
    >>> TakeInfo.from_json(info.as_json() | {"weather": "rain"}).other["weather"]
    'rain'
    """

    exercise: str = ""
    """Its id."""
    riff: str = ""
    """Empty for a passage of the form."""
    part: str = ""
    first_bar: int | None = None
    """Counted from 1 in the riff or the form."""
    last_bar: int | None = None
    """The last bar, included."""
    form: bool = False
    """Whether it goes through the form, in which bars are counted from its beginning."""
    tempo_bpm: float | None = None
    """Of the riff; of a form its first riff's."""
    passes: int = 1
    """Times through without a break."""
    click: str | None = None
    """The click pattern's name; empty for no click, None where that was not kept."""
    file: str = ""
    """The exercise's file, where it was named by its path."""
    heard_by: str = ""
    """Through what it was heard: `sound card` or `MIDI`."""
    logged_pass: str = ""
    """The id of its pass in the log."""
    unfinished: bool = False
    """Whether its pass was broken off."""
    start_s: float | None = None
    """The second of the take at which its pass begins, as far as is known."""
    start_known: bool = False
    """Whether calibration tells that."""
    at: str = ""
    """When it was played: an ISO date and time with its zone."""
    marks: tuple[str, ...] | None = None
    """Each stroke that was marked, in a few words; None where that was not kept."""
    comments: tuple[TakeComment, ...] = ()
    """What was said about it, the oldest first."""
    player: str = ""
    """Who played it, where it came in a set; empty for the player's own."""
    source: str = ""
    """The set in which it came."""
    sent_as: str = ""
    """Its name where it was played."""
    other: Mapping[str, Any] = field(default_factory=dict, hash=False)
    """What another version of the program kept, by key."""

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "TakeInfo":
        """Read what `as_json` gave; what is not understood is kept in `other`."""
        found: dict[str, Any] = {}
        other = dict(values)
        for name, understands in _UNDERSTANDS.items():
            key = _NAMES.get(name, name)
            if key in other and understands(other[key]):
                found[name] = other.pop(key)
        if found.get("click") == NO_CLICK:
            found["click"] = ""
        if found.get("marks") is not None:
            found["marks"] = tuple(str(mark) for mark in found["marks"])
        if "comments" in found:
            found["comments"] = tuple(TakeComment(*each) for each in found["comments"])
        return cls(**found, other=other)

    def as_json(self) -> dict[str, Any]:
        """As plain values for JSON; what is not known is left out."""
        values: dict[str, Any] = {}
        for each in fields(self):
            key, value = _NAMES.get(each.name, each.name), getattr(self, each.name)
            always = each.name in _ALWAYS and key not in self.other
            if each.name != "other" and (always or value != each.default):
                values[key] = list(value) if isinstance(value, tuple) else value
        if self.click is not None:
            values["click"] = self.click or NO_CLICK
        return {**self.other, **values}

    @property
    def begins_s(self) -> float:
        """The second of the take at which its pass begins, as far as is known."""
        return self.start_s or 0.0

    @property
    def known_s(self) -> float | None:
        """The same where calibration tells it; else None."""
        return self.start_s if self.start_known else None

    @property
    def what(self) -> str:
        """What it is of, in a few words."""
        riff = self.riff or ("the form" if self.form else "")
        return ", ".join(name for name in (self.part, riff, self.exercise) if name) or "a take"

    @property
    def bars(self) -> str:
        """Its bars in words: `3`, `1-4`, or `-` where they are not known."""
        if self.first_bar is None:
            return "-"
        return f"{self.first_bar}" if self.first_bar == self.last_bar else f"{self.first_bar}-{self.last_bar}"


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_flag(value: object) -> bool:
    return isinstance(value, bool)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e12


def _is_comments(value: object) -> bool:
    return isinstance(value, list) and all(
        isinstance(each, list) and 1 <= len(each) <= 3 and all(isinstance(text, str) for text in each) for each in value
    )


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 < value < 1_000_000


_UNDERSTANDS: Final[Mapping[str, Callable[[object], bool]]] = {
    "exercise": _is_text, "riff": _is_text, "part": _is_text, "first_bar": _is_count, "last_bar": _is_count,
    "form": _is_flag, "tempo_bpm": _is_number, "passes": _is_count, "click": _is_text, "file": _is_text,
    "heard_by": _is_text, "logged_pass": _is_text, "unfinished": _is_flag, "start_s": _is_number,
    "start_known": _is_flag, "at": _is_text, "marks": lambda value: isinstance(value, list),
    "comments": _is_comments, "player": _is_text, "source": _is_text, "sent_as": _is_text,
}  # fmt: skip
"""Whether a value of the JSON is one for a field."""
