"""Where a key of a TOML file stands: tomllib tells what a file says, but not on which line it says it."""

import re
import tomllib
from collections.abc import Sequence

_HEADER = re.compile(r"""\s*\[\[?(?P<name>(?:[^\[\]#"']|"[^"\n]*"|'[^'\n]*')+)\]\]?\s*(#.*)?$""")
_KEY = re.compile(r"""\s*(?P<name>(?:[\w-]+|"[^"\n]*"|'[^'\n]*')(?:\s*\.\s*(?:[\w-]+|"[^"\n]*"|'[^'\n]*'))*)\s*=""")


class TomlPlaces:
    """The lines and columns of the keys in one TOML text, found line by line."""

    def __init__(self, text: str) -> None:
        self._lines = text.splitlines()
        self._found: dict[tuple[str, ...], tuple[int, int]] = {}
        table: tuple[str, ...] = ()
        for number, line in enumerate(self._lines, 1):
            if header := _HEADER.match(line):
                table = _names(header["name"])
                self._note(table, number, header.start("name") + 1)
            elif key := _KEY.match(line):
                self._note(table + _names(key["name"]), number, key.start("name") + 1)

    def of(self, path: Sequence[str]) -> tuple[int, int]:
        """Line and column, from 1, of the key at `path`, or of the nearest table around it; (0, 0) if none is found."""
        for length in range(len(path), 0, -1):
            place = self._found.get(tuple(path[:length]))
            if place is None:
                continue
            return place if length == len(path) else self._inside(place, path[-1])
        return (0, 0)

    def _inside(self, place: tuple[int, int], key: str) -> tuple[int, int]:
        """The place of a key of an inline table that begins at `place`, if it stands on the same line."""
        line, column = place
        found = re.compile(rf"""["']?{re.escape(key)}["']?\s*=""").search(self._lines[line - 1], column)
        return (line, found.start() + 1) if found else place

    def _note(self, path: tuple[str, ...], line: int, column: int) -> None:
        for length in range(1, len(path) + 1):
            self._found.setdefault(path[:length], (line, column))


def _names(dotted: str) -> tuple[str, ...]:
    """The parts of a dotted key; none when it is not one."""
    try:
        value: object = tomllib.loads(f"{dotted} = 0")
    except tomllib.TOMLDecodeError:
        return ()
    names: list[str] = []
    while isinstance(value, dict):
        name, value = next(iter(value.items()))
        names.append(name)
    return tuple(names)
