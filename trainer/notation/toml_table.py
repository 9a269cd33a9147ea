"""TOML tables read with the place of every problem: unknown keys, wrong types, values out of bounds.

tomllib gives values without their places, so a key's place is found again in the text when a problem needs it.
"""

import tomllib
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any, TypeVar

from trainer.music.printable import is_printable
from trainer.music.problem import nearest
from trainer.notation.report import Report
from trainer.notation.toml_slips import bounds_slip, item_place, syntax_slip
from trainer.toml_place import TomlPlaces

T = TypeVar("T")

MOST_SHOWN = 10**15
"""Numbers below this are shown in a message."""
MOST_TEXT = 300
"""Characters of one text in a table, such as a title or a part's patch."""

_TYPES = {str: "a text in quotes", int: "a whole number", float: "a number", list: "a list", dict: "a table"}


class Table:
    """One TOML table and where its text stands in the file."""

    def __init__(
        self, values: dict[str, Any], text: str, first_line: int, report: Report, path: tuple[str, ...] = ()
    ) -> None:
        """Wrap a table.

        Args:
            values: the table.
            text: the whole TOML text it comes from.
            first_line: the file's line on which that text begins.
            report: where problems go.
            path: the keys that lead to this table.
        """
        self.values = values
        self.sound = True
        """False where the text could not be read, so that what is missing says nothing."""
        self.report = report
        self._text, self._first, self._path = text, first_line, path

    def problem(self, key: str, what: str, allowed: str = "", hint: str = "", item: int | None = None) -> None:
        """Report a problem at the key's place, or at that of one item (from 0) of its list."""
        if self.report.full:
            return
        line, column = _places(self._text).of((*self._path, key))
        if item is not None and line:
            line, column = item_place(self._text.split("\n"), line, column, item)
        self.report.add(self._first + max(line, 1) - 1, column, what, allowed, hint)

    def check_keys(self, allowed: Sequence[str], where: str) -> None:
        """Report every key that is not allowed, with the nearest that is."""
        for key in self.values:
            if self.report.full:
                return
            if key not in allowed:
                meant = nearest(key, allowed)
                hint = f'Did you mean "{meant}"' if meant else ""
                self.problem(key, f'"{key}" is not a key of {where}', ", ".join(allowed), hint)

    def get(self, key: str, kind: type, default: Any = None) -> Any:
        """The value of a key if it has the right type; the default, and a problem, if it has not."""
        value = self.values.get(key)
        if value is None:
            return default
        right = (int, float) if kind is float else (kind,)
        if not isinstance(value, right) or (isinstance(value, bool) and kind is not bool):
            self.problem(key, f'"{key}" must be {_TYPES[kind]}')
            return default
        if isinstance(value, str) and not is_printable(value):
            self.problem(key, f'"{key}" holds a control or invisible character', hint="Write it with plain characters")
            return default
        if isinstance(value, str) and len(value) > MOST_TEXT:
            self.problem(key, f'"{key}" has {len(value):,} characters', f"at most {MOST_TEXT:,}")
            return default
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty, and a problem, if it is anything else."""
        found = self.get(key, list, [])
        if not all(isinstance(item, str) and is_printable(item) for item in found):
            self.problem(key, f'"{key}" must be a list of texts in quotes')
            return ()
        for number, item in enumerate(found):
            if len(item) > MOST_TEXT:
                self.problem(key, f"a text of {len(item):,} characters", f"at most {MOST_TEXT:,}", item=number)
                return ()
        return tuple(found)

    def parse(
        self, key: str, read: Callable[[str], T], default: T, allowed: str, likely: Callable[[str], str] | None = None
    ) -> T:
        """A text read by a function that raises ValueError for what it does not know.

        Args:
            key: its key.
            read: reads it.
            default: the value where there is none, or none that can be read.
            allowed: what may be written.
            likely: says what was meant by a text that cannot be read; an empty string where it does not know.
        """
        text = self.get(key, str)
        if text is None:
            return default
        try:
            return read(text)
        except ValueError:
            meant = likely(text) if likely else ""
            self.problem(key, f'{key} "{text}" is not known', allowed, f'Did you mean "{meant}"' if meant else "")
            return default

    def number(self, key: str, low: float, high: float, default: Any, whole: bool = False) -> Any:
        """A number within bounds; the default, and a problem, if it is not."""
        value = self.get(key, int if whole else float, default)
        if value is not default and not low <= value <= high:
            shown = value if abs(value) < MOST_SHOWN else "so large a number"
            self.problem(key, f'"{key}" cannot be {shown}', f"{low:g} to {high:g}")
            return default
        return value

    def tables(self, key: str) -> list[tuple[str, "Table"]]:
        """The named tables under a key, such as `[parts.NAME]`."""
        found = self.get(key, dict, {})
        inner = []
        for name, values in found.items():
            if isinstance(values, dict):
                inner.append((name, Table(values, self._text, self._first, self.report, (*self._path, key, name))))
            else:
                self.problem(key, f'"{key}" must hold tables, such as [{key}."guitar 1"]')
        return inner

    def table(self, key: str) -> "Table":
        """The table under a key; an empty one where there is none."""
        return Table(self.get(key, dict, {}), self._text, self._first, self.report, (*self._path, key))


def read_table(text: str, first_line: int, report: Report) -> Table:
    """Read TOML text that begins on a line of the file; invalid TOML is a problem and gives an empty table."""
    slip = bounds_slip(text)
    values: dict[str, Any] = {}
    if slip is None:
        try:
            values = tomllib.loads(text)
        except (ValueError, RecursionError) as error:
            slip = syntax_slip(text, error)
    if slip:
        line, column, what, hint = slip
        report.add(first_line + line - 1, column, what, hint=hint)
    table = Table(values, "" if slip else text, first_line, report)
    table.sound = slip is None
    return table


@lru_cache(maxsize=4)
def _places(text: str) -> TomlPlaces:
    return TomlPlaces(text)
