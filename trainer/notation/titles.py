"""Titles in order: without case and accents, as a player looks for them."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.notation.head import Head


def folded(text: str) -> str:
    """A text without case and accents, so that "etude" finds "Étude"."""
    if text.isascii():
        return text.casefold()
    import unicodedata

    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(char for char in apart if not unicodedata.combining(char))


def by_title(head: "Head") -> tuple[str, str]:
    """What heads are ordered by: the title, and for equal ones the file."""
    return folded(head.title), head.file
