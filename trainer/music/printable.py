"""Text from files made safe to show: what a terminal or a reader could be fooled by is written out as its code."""

import unicodedata

_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode categories that a terminal acts on, or that cannot be seen: controls, direction marks, private use."""


def printable(text: str, keep: str = "") -> str:
    r"""The text with every control and invisible character written as its code, such as `\x1b`.

    Args:
        text: anything.
        keep: characters to leave as they are, such as a line break.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        c if c in keep or unicodedata.category(c) not in _HIDDEN else c.encode("unicode_escape").decode() for c in text
    )


def is_printable(text: str) -> bool:
    """Whether nothing in the text would have to be written as a code."""
    return printable(text) == text
