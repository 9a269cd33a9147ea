"""The lesson's words as lines that fit a width. CommonMark is read for its structure only: nothing in it does anything.

Links show their text and, after it, where they would lead; HTML, markup and escape sequences show literally.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder
from trainer.screens.drawing.wrapping import Span, wrap

if TYPE_CHECKING:
    from markdown_it.token import Token


def prose_rows(text: str, width: int) -> tuple[Row, ...]:
    """The lines of some CommonMark.

    Args:
        text: from an exercise file.
        width: cells of a line.
    """
    from markdown_it import MarkdownIt

    page = _Page(width)
    for token in MarkdownIt("commonmark").parse(text):
        page.take(token)
    while page.rows and not page.rows[-1].text.strip():
        page.rows.pop()
    return tuple(page.rows)


class _Page:
    """Rows in the making, with how deep lists and quotes are."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.rows: list[Row] = []
        self._indent = 0
        self._before = ""
        self._kind = ink.PLAIN
        self._numbers: list[int | None] = []

    def take(self, token: "Token") -> None:
        """The next piece of the text."""
        if token.type in ("bullet_list_open", "ordered_list_open"):
            self._numbers.append(int(token.attrGet("start") or 1) if token.type.startswith("ordered") else None)
        elif token.type in ("bullet_list_close", "ordered_list_close"):
            self._numbers.pop()
        elif token.type == "list_item_open":
            number = self._numbers[-1]
            self._before = "-" if number is None else f"{number}."
            self._numbers[-1] = None if number is None else number + 1
        self._indent += _INDENTS.get(token.type, 0)
        self._kind = {"heading_open": ink.HEAD, "heading_close": ink.PLAIN}.get(token.type, self._kind)
        if token.type == "inline":
            self.rows += wrap(_inline(token.children or [], self._kind), self.width, self._indent, self._before)
            self._before = ""
        elif token.type in ("fence", "code_block", "html_block"):
            for line in token.content.rstrip("\n").split("\n"):
                self.rows += wrap([(line, ink.QUIET)], self.width, self._indent + 2, "")
        if token.type in ("inline", "fence", "code_block", "html_block", "hr"):
            self.rows.append(RowBuilder(self.width).row())


_INDENTS = {"bullet_list_open": 3, "ordered_list_open": 3, "blockquote_open": 2}
_INDENTS |= {name.replace("open", "close"): -cells for name, cells in _INDENTS.items()}


def _inline(children: "Sequence[Token]", kind: str) -> list[Span]:
    spans: list[Span] = []
    strong = 0
    links: list[str] = []
    for child in children:
        now = ink.STRONG if strong and kind == ink.PLAIN else kind
        if child.type in ("strong_open", "em_open"):
            strong += 1
        elif child.type in ("strong_close", "em_close"):
            strong -= 1
        elif child.type in ("softbreak", "hardbreak"):
            spans.append((" ", now))
        elif child.type == "link_open":
            links.append(str(child.attrGet("href") or ""))
        elif child.type == "link_close":
            spans.append((f" ({links.pop()})", ink.QUIET))
        elif child.type == "image":
            spans.append((child.content, now))
        else:
            spans.append((child.content, now))
    return spans
