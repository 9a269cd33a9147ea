"""How else guitarists write a note in plain tab, and what it is written as here: the hints for cells that are none."""

import re

_OWN_COUNT = "Write the second note under its own count, with the mark before its fret"

_SLIPS: tuple[tuple[str, str], ...] = (
    (r"\d{1,3}([hptHPT/\\]\d{1,3}~*)+", _OWN_COUNT),
    (r"\d{1,3}[sS]\d{1,3}", "Write the slide's goal under its own count: /9 for a slide up to 9, \\\\5 down to 5"),
    (r".*[\u2010-\u2015\u2212].*", "That is a dash of print: use the plain hyphen, -, for filler"),
    (r"0+(\d+)", r"A fret has no leading zero: write \1, and give each note a count of its own"),
    (r"\((\d{1,3})\)", r"Write \1 where it is struck; where it only sounds on, leave the place empty"),
    (r"(\d{1,3})\*", r"Write <\1> for a natural harmonic"),
    (r"[\[{(](\d{1,3})[\]})]?|<(\d{1,3})", "Write <12> for a natural harmonic"),
    (r"([hpt/\\]?\d{1,3}(?:b\d{1,3})?)[~vVwW]+(\.?)", r"Write one ~ for vibrato: \1~\2"),
    (r"~+(\d{1,3})", r"Vibrato stands after the fret: \1~"),
    (r"X", "A dead note is a small x"),
    (r"[oO]", "The open string is the digit 0"),
    (r"R", "A rest is a small r"),
    (r"([HPT])(\d{1,3})(~?\.?)", "Write the mark small, as in h7, p5 or t12"),
    (
        r"(\d{1,3})([hpt/\\])",
        r"The mark stands before the fret that it leads to, under that fret's count: \2 and its fret",
    ),
    (
        r"(\d{1,3})b(?:full|½|1/2|1|\(\d{1,3}\))?(?:r\d{0,3})?",
        r"Name the fret whose pitch the bend reaches: \1b and that fret",
    ),
    (r"(\d{1,3})\^(?:full|½|1/2|\d{0,3})", r"Write a bend as b and the fret whose pitch it reaches, such as \1b9"),
    (r"b\d{1,3}", "A bend begins on a fret: 7b9 is fret 7 bent to the pitch of fret 9"),
    (r"(\d{1,3})[>^]+|[>^]+(\d{1,3})", "Accents stand in a row of their own, accent"),
    (r"[\d{1,3}]?PM|\d{1,3}m", "Palm mutes stand in a row of their own, mute"),
)
"""What stands in a cell, as a pattern, and what to do, with what the pattern caught."""

_PATTERNS = tuple((re.compile(pattern), hint) for pattern, hint in _SLIPS)

LONGEST = 24
"""Characters of a token that is looked at; nobody writes a longer one for a single note."""


def slip_hint(text: str) -> str:
    """What to do about a token that is no cell; empty where nothing is known about it."""
    if len(text) > LONGEST:
        return ""
    for pattern, hint in _PATTERNS:
        found = pattern.fullmatch(text)
        if found:
            return found.expand(hint)
    return ""
