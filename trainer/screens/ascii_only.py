"""Drawing in ASCII for terminals without UTF-8: frames of windows, scroll bars, titles with accents."""

import unicodedata
from functools import lru_cache

from rich.cells import get_character_cell_size
from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

_FRAMES = {
    **dict.fromkeys("─━═╌╍┄┅┈┉╴╶╸╺", "-"),
    **dict.fromkeys("│┃║╎╏┆┇┊┋╵╷╹╻▏▎▍▌▕▐", "|"),
    **dict.fromkeys("▁▂▃▄▅▆▇█▀▔▊▋▉░▒▓", "#"),
    **dict.fromkeys("•·●◆◇○", "*"),
}
_WORDS = {
    "\N{EN DASH}": "-", "\N{EM DASH}": "-", "\N{MULTIPLICATION SIGN}": "x", "→": ">", "←": "<", "▸": ">", "▼": "v",
    "\N{LEFT SINGLE QUOTATION MARK}": "'", "\N{RIGHT SINGLE QUOTATION MARK}": "'", "“": '"', "”": '"',
}  # fmt: skip
UNKNOWN = "?"


@lru_cache(maxsize=4096)
def ascii_character(character: str) -> str:
    """Replace a character by ASCII of as many cells; `?` if none is like it."""
    if character.isascii():
        return character
    found = _FRAMES.get(character) or _WORDS.get(character)
    if found:
        return found
    if "BOX DRAWINGS" in unicodedata.name(character, ""):
        return "+"
    base = unicodedata.normalize("NFKD", character)[0]
    cells = get_character_cell_size(character)
    return (base if base.isascii() and base.isprintable() else UNKNOWN) * cells


def ascii_text(text: str) -> str:
    """Replace a text by ASCII, each character keeping its cells."""
    return text if text.isascii() else "".join(map(ascii_character, text))


class AsciiOnly(LineFilter):
    """Turns every line into ASCII, whatever draws it."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Turn the segments into ASCII."""
        return [Segment(ascii_text(text), style, control) for text, style, control in segments]
