"""The index: the heads of exercise files, remembered between starts so that no unchanged file is read again.

A text file of JSON lines: first what it is and how many exercises it has, then a line for each exercise in the order
of their titles, then one for each file that is none. So a screenful is read without the rest (`glimpse`), which takes
a thirtieth of the time of reading ten thousand exercises.
"""

import json
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from trainer.notation.head import Head
from trainer.notation.titles import by_title

VERSION = 3
"""Another version is made anew."""
LARGEST = 256 * 1024 * 1024
"""Bytes of an index that is read."""

EXERCISE = 4
"""Cells of a row for a file that is no exercise: its stamp, its path, its place among all files; an exercise has more.
"""

Stamp = tuple[int, int]
"""When a file changed, in nanoseconds since 1970, and how many bytes it has."""
Known = dict[str, tuple[Stamp, Head | None]]
"""For each file its stamp then, and its head; None for what is no exercise."""


class Glimpse(NamedTuple):
    """Some neighbours of the list of exercises, as they were when the index was written."""

    heads: tuple[Head, ...]
    """In the order of folders and files."""
    before: int
    """Exercises that come before them."""
    total: int
    """Exercises there are."""

    @property
    def whole(self) -> bool:
        """Whether these are all there are."""
        return len(self.heads) == self.total


def load(path: Path) -> tuple[Known, str]:
    """What an index remembers, and of what; nothing for a file that is missing, damaged, or of another version."""
    with suppress(OSError, ValueError, TypeError, KeyError, IndexError, AttributeError):
        first, rest = _read(path)
        rows: list[list[Any]] = json.loads(f"[{','.join(rest.splitlines())}]")
        return {row[2]: ((row[0], row[1]), _head(row) if len(row) > EXERCISE else None) for row in rows}, str(
            first["of"]
        )
    return {}, ""


def text_of(known: Known, of: str) -> str:
    """The index as `load` and `glimpse` read it.

    Args:
        known: what is remembered.
        of: names what was looked through; a glimpse for anything else is refused.
    """
    found = [(head, stamp, place) for place, (stamp, head) in enumerate(known.values()) if head]
    found.sort(key=lambda each: by_title(each[0]))
    heads = [[*stamp, *head, place] for head, stamp, place in found]
    others = [[*stamp, path, place] for place, (path, (stamp, head)) in enumerate(known.items()) if head is None]
    first = {"version": VERSION, "of": of, "count": len(heads)}
    return "\n".join(json.dumps(each, separators=(",", ":")) for each in (first, *heads, *others))


def glimpse(path: Path, of: str, file: str = "", around: int = 150) -> Glimpse | None:
    """Up to twice so many exercises around one of them.

    Args:
        path: the index.
        of: what is to be looked through, as it was given to `text_of`.
        file: the exercise file in the middle; the first exercises where it is unknown.
        around: how many exercises before and after it.

    Returns:
        None where there is no index of that.
    """
    with suppress(OSError, ValueError, TypeError, KeyError, IndexError, AttributeError):
        first, rest = _read(path)
        count = int(first["count"])
        if first["of"] != of:
            return None
        found = max(0, rest.find(json.dumps(file))) if file and count > around else 0
        begin = max(0, rest.count("\n", 0, found) - around)
        for _ in range(begin and around + 1):
            found = rest.rfind("\n", 0, found)
        wanted = min(2 * around, count - begin)
        lines = rest[found + 1 if begin else 0 :].split("\n", wanted)[:wanted]
        if len(lines) < wanted:
            return None
        rows: list[list[Any]] = json.loads(f"[{','.join(lines)}]")
        rows.sort(key=lambda row: row[-1])
        return Glimpse(tuple(map(_head, rows)), begin, count)
    return None


def _read(path: Path) -> tuple[dict[str, Any], str]:
    """What an index says of itself, and its other lines. Raises ValueError for another version or a huge file."""
    if path.stat().st_size > LARGEST:
        raise ValueError("no index is so large")
    told, _, rest = path.read_text("ascii").partition("\n")
    first = json.loads(told)
    if first["version"] != VERSION:
        raise ValueError("another version")
    return first, rest


def _head(row: list[Any]) -> Head:
    _, _, file, name, title, by, tags, key, meter, start, target, riffs, problem, _ = row
    return Head(file, name, title, by, tuple(tags), key, meter, start, target, tuple(riffs), problem)
