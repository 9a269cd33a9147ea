"""What comes from a file, as a message may show it: no character that a terminal would obey."""

from pathlib import Path

NAME_LIMIT = 60
"""Characters a name or a text may have before it is refused or cut for showing."""


def shown(value: object) -> str:
    """A value from a file as a message may show it: short, and no character that a terminal would obey."""
    text = value if isinstance(value, str) else str(value)
    text = "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text[: NAME_LIMIT + 1])
    return text if len(text) <= NAME_LIMIT else text[:NAME_LIMIT] + "…"


def quoted(value: object) -> str:
    """The same, between quotation marks when it is text."""
    return f'"{shown(value)}"' if isinstance(value, str) else shown(value)


def shown_path(path: Path) -> str:
    """A path as a message may show it: whole, without a character that a terminal would obey."""
    return "".join(char if char.isprintable() else ascii(char)[1:-1] for char in str(path))
