"""The harmonies that can be tried on the stand: one interval after the other, for the guitar that is not mine."""

from collections.abc import Sequence

AS_WRITTEN = ""
"""Stands for what the file has."""

INTERVALS = (
    "third above",
    "third below",
    "sixth above",
    "sixth below",
    "fourth above",
    "fourth below",
    "perfect fourth above",
    "perfect fourth below",
    "fifth above",
    "fifth below",
    "perfect fifth above",
    "perfect fifth below",
    "octave above",
    "octave below",
)
"""In the words of the file; without a quality they move inside the key."""

ANSWERS = ("guitar 2", "guitar 1", "guitar 3")
"""Names for a part that answers where there is no other guitar, the first that is free."""


def next_interval(now: str, step: int, filed: str = "") -> str:
    """The interval after (or before) another; what the file has stands between the last and the first.

    Args:
        now: one of `INTERVALS`, or `AS_WRITTEN`.
        step: 1 or -1.
        filed: the interval that the file asks for: it is not offered a second time.
    """
    names = (AS_WRITTEN, *(words for words in INTERVALS if words != filed))
    at = names.index(now) if now in names else 0
    return names[(at + step) % len(names)]


def answer_name(mine: str, other: str, names: Sequence[str]) -> str:
    """The part that answers mine: the other guitar, or one that is not there yet."""
    return other or next(name for name in ANSWERS if name != mine and name not in names)
