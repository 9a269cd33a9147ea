"""How large and how tangled the code is: lines and files by room, the longest class, names with several meanings.

`python -m tests.benchmarks.house [FOLDER …]` prints a column for each checkout; without one, this checkout's. Lines are
lines of Python files, blank ones and docstrings included. A class counts its own body and the bodies of all the classes
of ours that it inherits from, because a reader must put them together.
"""

import argparse
import ast
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parents[2]
SHORT_FILE = 50
TIMES = 2
"""From so many classes of one name on, the name is counted as one with several meanings."""


@dataclass(frozen=True, slots=True)
class ClassFound:
    """One class of a checkout."""

    name: str
    file: str
    lines: int
    bases: tuple[str, ...]
    methods: int
    nested: bool


@dataclass(frozen=True, slots=True)
class Checkout:
    """The Python files of a checkout's `trainer` folder, parsed."""

    folder: Path
    lines: dict[str, int]
    """For each file, by its path below `trainer`."""
    classes: tuple[ClassFound, ...]

    @classmethod
    def read(cls, folder: Path) -> "Checkout":
        """Parse every Python file below `folder/trainer`."""
        root = folder / "trainer"
        lines: dict[str, int] = {}
        classes: list[ClassFound] = []
        for path in sorted(root.rglob("*.py")):
            text = path.read_text("utf-8")
            name = path.relative_to(root).as_posix()
            lines[name] = len(text.splitlines())
            classes += _classes(ast.parse(text), name)
        return cls(folder, lines, tuple(classes))

    def rooms(self) -> dict[str, tuple[int, int]]:
        """Lines and files of each room; "." holds the files beside the rooms. Empty package files do not count."""
        found: dict[str, tuple[int, int]] = {}
        for name, lines in self.lines.items():
            if not lines:
                continue
            room = name.partition("/")[0] if "/" in name else "."
            before = found.get(room, (0, 0))
            found[room] = before[0] + lines, before[1] + 1
        return found

    def with_inherited(self, of: ClassFound) -> tuple[int, int, int]:
        """Lines, methods and number of a class and all the classes of ours that it inherits from."""
        by_name = {each.name: each for each in self.classes}
        waiting, seen = [of.name], {of.name: of}
        while waiting:
            for base in seen[waiting.pop()].bases:
                if base in by_name and base not in seen:
                    seen[base] = by_name[base]
                    waiting.append(base)
        return sum(each.lines for each in seen.values()), sum(each.methods for each in seen.values()), len(seen)

    def longest(self) -> tuple[ClassFound, tuple[int, int, int]]:
        """The class with the most lines to put together, and what `with_inherited` says of it."""
        return max(((each, self.with_inherited(each)) for each in self.classes), key=lambda pair: pair[1])

    def single_heirs(self) -> list[str]:
        """Classes of ours from which exactly one class inherits."""
        heirs = Counter(base for each in self.classes for base in each.bases)
        ours = {each.name for each in self.classes}
        return sorted(name for name, count in heirs.items() if count == 1 and name in ours)

    def doubles(self) -> dict[str, list[str]]:
        """Names that several classes have, with their files; messages nested in a widget are left out."""
        where: dict[str, list[str]] = {}
        for each in self.classes:
            if not each.nested and not each.name.startswith("_"):
                where.setdefault(each.name, []).append(each.file)
        return {name: files for name, files in sorted(where.items()) if len(files) >= TIMES}

    def short(self) -> int:
        """Files of fewer than 50 lines, empty ones left out."""
        return sum(0 < lines < SHORT_FILE for lines in self.lines.values())


def _classes(tree: ast.Module, file: str) -> Iterator[ClassFound]:
    def within(node: ast.AST, nested: bool) -> Iterator[ClassFound]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.ClassDef):
                bases = tuple(name for base in child.bases if (name := _name(base)))
                methods = sum(isinstance(each, ast.FunctionDef | ast.AsyncFunctionDef) for each in child.body)
                lines = (child.end_lineno or child.lineno) - child.lineno + 1
                yield ClassFound(child.name, file, lines, bases, methods, nested)
                yield from within(child, nested=True)
            else:
                yield from within(child, nested)

    return within(tree, nested=False)


def _name(base: ast.expr) -> str:
    if isinstance(base, ast.Subscript):
        base = base.value
    if isinstance(base, ast.Attribute):
        return base.attr
    return base.id if isinstance(base, ast.Name) else ""


def table(checkouts: Sequence[Checkout]) -> list[tuple[str, ...]]:
    """The rows that are printed: a label, then a cell for each checkout."""
    rooms = [each.rooms() for each in checkouts]
    names = sorted({name for found in rooms for name in found}, key=lambda name: (name == ".", name))
    rows = [
        (f"{name}: lines / files", *(("{:,} / {}".format(*found[name]) if name in found else "-") for found in rooms))
        for name in names
    ]
    totals = [(sum(v[0] for v in found.values()), sum(v[1] for v in found.values())) for found in rooms]
    rows.append(("trainer: lines / files", *(f"{lines:,} / {files}" for lines, files in totals)))
    rows.append((f"files under {SHORT_FILE} lines", *(str(each.short()) for each in checkouts)))
    longest = [each.longest() for each in checkouts]
    rows.append(
        (
            "longest class with all it inherits",
            *(f"{found.name}: {n} lines, {m} methods, {k} classes" for found, (n, m, k) in longest),
        )
    )
    rows.append(("base classes with one heir", *(str(len(each.single_heirs())) for each in checkouts)))
    rows.append(("names of several classes", *(str(len(each.doubles())) for each in checkouts)))
    return rows


def main(words: Sequence[str] | None = None) -> int:
    """Print the table, then the names behind its last two rows for the last checkout."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=[HERE], help="checkouts to compare")
    folders = parser.parse_args(words).folders
    checkouts = [Checkout.read(folder) for folder in folders]
    rows = table(checkouts)
    widths = [max(len(row[column]) for row in rows) for column in range(len(checkouts) + 1)]
    for row in rows:
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
    last = checkouts[-1]
    print("\nBase classes with one heir:", ", ".join(last.single_heirs()) or "none")
    for name, files in last.doubles().items():
        print(f"{name}: {', '.join(files)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
