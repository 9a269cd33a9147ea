"""Writing to the terminal: plain text that cannot carry escape sequences out of a file, and JSON for programs."""

import json
import os
import sys
from collections.abc import Sequence
from typing import Any, TextIO

from trainer.music.printable import is_printable, printable


def say(text: str = "", strong: bool = False) -> None:
    """One line (or several) on standard output; strong where the terminal can and nothing speaks against it."""
    _write(sys.stdout, text, strong and _can_emphasise())


def complain(text: str) -> None:
    """One line on standard error."""
    _write(sys.stderr, text)


def say_json(value: Any) -> None:
    """A value as JSON on standard output, two spaces to a level."""
    _write_json(json.dumps(value, ensure_ascii=False, indent=2))


def say_json_line(value: Any) -> None:
    """A value as JSON on one line of standard output, at once: for programs that read along."""
    _write_json(json.dumps(value, ensure_ascii=False))
    sys.stdout.flush()


def _write_json(text: str) -> None:
    """Write JSON with what a terminal acts on, or cannot show, as JSON's own escapes."""
    plain = (sys.stdout.encoding or "utf-8").casefold().replace("-", "") == "utf8"
    safe = (c if c == "\n" or (plain and is_printable(c)) else json.dumps(c)[1:-1] for c in text)
    sys.stdout.write((text if text.isascii() and "\x7f" not in text else "".join(safe)) + "\n")


def _can_emphasise() -> bool:
    """Whether codes may be written: to a terminal, where the player has not asked for none (https://no-color.org)."""
    return not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb" and sys.stdout.isatty()


def table(rows: Sequence[tuple[str, ...]], right: frozenset[int] = frozenset()) -> list[str]:
    """Rows as lines with aligned columns; columns in `right` are aligned to the right, the last is not padded."""
    safe = [tuple(printable(cell) for cell in row) for row in rows]
    widths = [max(len(row[i]) for row in safe) for i in range(len(safe[0]))] if safe else []
    lines = []
    for row in safe:
        cells = [
            f"{cell:>{w}}" if i in right else f"{cell:<{w}}"
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def _write(stream: TextIO, text: str, strong: bool = False) -> None:
    encoding = stream.encoding or "utf-8"
    safe = printable(text, keep="\n").encode(encoding, "replace").decode(encoding)
    stream.write(f"\x1b[1m{safe}\x1b[0m\n" if strong else safe + "\n")
