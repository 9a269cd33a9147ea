"""Reading a TOML table key by key, so that every mistake becomes a problem with its place and none hides another."""

from collections.abc import Collection, Iterator, Mapping
from fractions import Fraction

from trainer.music.problem import Problem, nearest
from trainer.sounds.shown import NAME_LIMIT, quoted, shown
from trainer.toml_place import TomlPlaces


class FileProblems:
    """The problems found so far in one TOML file."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.found: list[Problem] = []
        self._places = TomlPlaces(text)

    def add(self, path: tuple[str, ...], what: str, allowed: str = "", hint: str = "") -> None:
        """Note one problem at the key that `path` leads to."""
        line, column = self._places.of(path)
        self.found.append(Problem(self.file, line, column, what, allowed, hint))


class CheckedTable:
    """One table of a file: what is read through it is valid, or noted as a problem and replaced by a default."""

    def __init__(self, problems: FileProblems, path: tuple[str, ...], value: object) -> None:
        self.path = path
        self.problems = problems
        self._value: Mapping[str, object] = {}
        if isinstance(value, dict):
            self._value = value
        else:
            self.add("", f'"{shown(path[-1]) if path else ""}" must be a table', "key = value pairs")

    def __contains__(self, key: str) -> bool:
        return key in self._value

    def add(self, key: str, what: str, allowed: str = "", hint: str = "") -> None:
        """Note a problem at `key`; at the table itself when `key` is empty."""
        self.problems.add((*self.path, key) if key else self.path, what, allowed, hint)

    def only(self, known: Collection[str]) -> None:
        """Note every key that is not one of `known`."""
        for key in self._value:
            if key not in known:
                near = nearest(key, known)
                hint = f'Did you mean "{near}"' if near else ""
                self.add(key, f'unknown key "{shown(key)}"', ", ".join(known), hint)

    def tables(self, key: str = "") -> "Iterator[tuple[str, CheckedTable]]":
        """The named tables under `key` (or of this table itself), each with its name."""
        inner = self.table(key) if key else self
        for name, value in inner._value.items():
            if not name or not name.isprintable() or name != name.strip() or len(name) > NAME_LIMIT:
                allowed = f"1 to {NAME_LIMIT} printable characters"
                inner.add(name, f'"{shown(name)}" cannot be a name', allowed)
            else:
                yield name, CheckedTable(self.problems, (*inner.path, name), value)

    def table(self, key: str) -> "CheckedTable":
        """The table under `key`; an empty one when there is none."""
        return CheckedTable(self.problems, (*self.path, key), self._value.get(key, {}))

    def keys(self) -> tuple[str, ...]:
        """The keys as the file has them."""
        return tuple(self._value)

    def is_table(self, key: str) -> bool:
        """Whether the value under `key` is a table."""
        return isinstance(self._value.get(key), dict)

    def text(self, key: str, default: str = "") -> str:
        """A line of printable text."""
        value = self._value.get(key, default)
        if isinstance(value, str) and value.isprintable() and len(value) <= 200:
            return value
        self.add(key, f'"{key}" must be text, not {quoted(value)}', "one line of at most 200 printable characters")
        return default

    def word(self, key: str, allowed: Collection[str], default: str, kind: str = "") -> str:
        """One of the `allowed` words; `kind` says what they are when the key does not."""
        value = self._value.get(key, default)
        if isinstance(value, str) and value in allowed:
            return value
        near = nearest(value, allowed) if isinstance(value, str) else ""
        hint = f'Did you mean "{near}"' if near else ""
        self.add(key, f'unknown {kind or key} "{shown(value)}"', ", ".join(allowed), hint)
        return default

    def flag(self, key: str, default: bool) -> bool:
        """True or false."""
        value = self._value.get(key, default)
        if isinstance(value, bool):
            return value
        self.add(key, f'"{key}" cannot be {quoted(value)}', "true or false")
        return default

    def whole(self, key: str, low: int, high: int, default: int | None) -> int:
        """A whole number from `low` to `high`; one must be there when `default` is None."""
        value = self._value.get(key, default)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        what = f'"{key}" is missing' if value is None else f'"{key}" cannot be {quoted(value)}'
        self.add(key if key in self else "", what, f"a whole number from {low} to {high}")
        return low if default is None else default

    def number(self, key: str, low: float, high: float, default: float) -> float:
        """A number from `low` to `high`."""
        value = self._value.get(key, default)
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        self.add(key, f'"{key}" cannot be {quoted(value)}', f"a number from {low:g} to {high:g}")
        return default

    def fraction(self, key: str, default: Fraction) -> Fraction:
        """A fraction of a pulse as text, such as "1/2"."""
        found = self._fraction(key, self._value[key]) if key in self else default
        return default if found is None else found

    def fractions(self, key: str) -> list[Fraction]:
        """A list of such fractions."""
        value = self._value.get(key, [])
        if not isinstance(value, list) or len(value) > 256:
            self.add(key, f'"{key}" must be a list', 'at most 256 fractions of a pulse such as ["0", "1/2"]')
            return []
        return [found for item in value if (found := self._fraction(key, item)) is not None]

    def _fraction(self, key: str, value: object) -> Fraction | None:
        try:
            if isinstance(value, str) and len(value) <= 12 and "e" not in value.casefold():
                found = Fraction(value)
                if 0 <= found <= 64 and found.denominator <= 96:
                    return found
        except (ValueError, ZeroDivisionError):
            pass
        self.add(key, f'"{shown(value)}" is not a time', 'a fraction of a pulse from 0 to 64 as text, such as "1/2"')
        return None
