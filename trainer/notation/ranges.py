"""Ranges in the mute and ring rows: `PM-----` and `let ring---` hold as far as their dashes reach.

A mark of letters followed by dashes is a range, over bar lines too where the next bar goes on with dashes. Any other
mark, such as `=`, holds for the count that it stands under, and dashes beside it are filler.
"""

import re
from dataclasses import dataclass

ROWS = ("mute", "ring")
"""Rows that have ranges."""

_SPAN = re.compile(r"(?P<word>let ring|[^\s\-]+)(?P<reach>[\s\-]*-)?", re.IGNORECASE)
_CARRIED = re.compile(r"\s*(-[\s\-]*)")


@dataclass(frozen=True, slots=True)
class Span:
    """One mark of a row in one bar."""

    begin: int
    """The character of the bar's text at which it begins, counted from 0."""
    end: int
    """The character after its last one; after its last dash for a range."""
    word: str
    """The mark; empty for a range that goes on from the bar before."""
    ranged: bool
    """Whether it holds for every count that it reaches, not for one alone."""


def read_spans(text: str, carried: bool) -> tuple[tuple[Span, ...], bool]:
    """The marks of one bar, and whether a range may go on in the next bar.

    Args:
        text: the bar's text.
        carried: whether the bar before ended inside a range.
    """
    spans: list[Span] = []
    going = False
    at = 0
    if carried and (dashes := _CARRIED.match(text)):
        end = dashes.start(1) + len(dashes[1].rstrip())
        spans.append(Span(dashes.start(1), end, "", True))
        at, going = dashes.end(), True
    for found in _SPAN.finditer(text, at):
        word = found["word"]
        letters = len(word) > 1 and any(char.isalpha() for char in word)
        going = letters and found["reach"] is not None
        spans.append(Span(found.start(), found.end() if going else found.end("word"), word, going or " " in word))
    return tuple(spans), going
