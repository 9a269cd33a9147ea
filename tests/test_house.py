"""The house keeps its rules: style, types, the direction of imports, and a light start."""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping, Set
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize(
    "command",
    [
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy"],
        ["importlinter.cli", "lint-imports"],
    ],
    ids=["style", "format", "types", "imports"],
)
def test_the_house_rules_hold(command: list[str]) -> None:
    if command[0] == "importlinter.cli":
        words = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"]
    else:
        words = [sys.executable, "-m", *command]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


HEAVY = ("numpy", "textual", "fluidsynth", "rtmidi", "mido", "soundfile", "sounddevice", "sqlite3", "markdown_it")


def _loaded(words: list[str], modules: tuple[str, ...]) -> list[str]:
    """Which modules a call of the program imports."""
    loaded = f"print(*(m for m in {modules!r} if m in sys.modules))"
    code = f"import sys; from trainer.__main__ import main; main({words!r}); {loaded}"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.strip().split("\n")[-1].split()


def test_help_imports_nothing_heavy() -> None:
    found = _loaded(["--help"], (*HEAVY, "argparse", "dataclasses", "fractions"))
    assert [name for name in found if name in (*HEAVY, "argparse", "dataclasses", "fractions")] == []


def test_checking_a_file_imports_no_sound() -> None:
    file = str(next(path for path in sorted((ROOT / "exercises").glob("*.md")) if path.name != "README.md"))
    sound = tuple(name for name in HEAVY if name != "markdown_it")
    assert [name for name in _loaded(["check", file], sound) if name in sound] == []


LATE = (
    *(name for name in HEAVY if name != "textual"), "msgspec", "tomllib", "tomlkit", "argparse",
    "concurrent.futures.thread", "trainer.settings", "trainer.music.exercise", "trainer.notation.library",
    "trainer.practice.log", "trainer.practice.reading", "trainer.practice.cautions", "trainer.sounds.rig",
    "trainer.screens.asking", "trainer.screens.palette", "trainer.screens.typed", "trainer.screens.stand",
    "trainer.screens.logbook", "trainer.screens.today", "trainer.screens.takes",
    "trainer.screens.explained", "trainer.arranging", "trainer.practice.passes", "trainer.values", "msgspec",
    "trainer.session.choices", "trainer.screens.drawing.panel",
)  # fmt: skip
"""What the first picture of the shelf does without: the log, the settings, the other screens, every window."""


def test_the_shelf_is_shown_before_anything_else_is_imported(tmp_path: Path) -> None:
    code = f"""
import asyncio, sys
from trainer.screens import application, shelf
from trainer.session import own_machine
app = application.TwinspurApp(own_machine.open_machine())
shown = shelf.ShelfScreen.on_mount
def on_mount(self):
    shown(self)
    print(*(name for name in {LATE!r} if name in sys.modules), flush=True)
    self.app.exit()
shelf.ShelfScreen.on_mount = on_mount
async def run():
    async with app.run_test():
        pass
asyncio.run(run())
"""
    homes = {f"XDG_{name}_HOME": str(tmp_path) for name in ("CONFIG", "DATA", "STATE", "CACHE")}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True, env=os.environ | homes
    )
    assert done.stdout.split("\n")[0].split() == []


def test_no_file_is_two() -> None:
    long = [
        f"{path.relative_to(ROOT)} has {lines} lines"
        for room in ("trainer", "tests", "patches")
        for path in (ROOT / room).rglob("*.py")
        if (lines := len(path.read_text("utf-8").splitlines())) > 600
    ]
    assert long == []


def _module(path: Path, above: Path) -> str:
    return ".".join(path.relative_to(above).with_suffix("").parts).removesuffix(".__init__")


def _imported(node: ast.AST) -> Iterator[str]:
    """Names that a module imports anywhere in it, but not those that only a type checker sees."""
    for inner in ast.iter_child_nodes(node):
        if isinstance(inner, ast.Import):
            yield from (each.name for each in inner.names)
        elif isinstance(inner, ast.ImportFrom) and inner.module:
            yield from (f"{inner.module}.{each.name}" for each in inner.names)
        elif isinstance(inner, ast.If) and "TYPE_CHECKING" in ast.unparse(inner.test):
            for other in inner.orelse:
                yield from _imported(other)
        else:
            yield from _imported(inner)


def _imports(package: Path) -> Mapping[str, Set[str]]:
    """By module of a package, the modules of the same package that it imports."""
    paths = {_module(path, package.parent): path for path in package.rglob("*.py")}
    found: dict[str, Set[str]] = {}
    for module, path in paths.items():
        names = set(_imported(ast.parse(path.read_text("utf-8"))))
        found[module] = {name if name in paths else name.rpartition(".")[0] for name in names} & paths.keys()
    return found


def _circle(imports: Mapping[str, Set[str]]) -> list[str]:
    """Modules that import each other in a circle; empty where none do."""
    try:
        TopologicalSorter(imports).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_module_imports_itself_in_a_circle() -> None:
    assert _circle(_imports(ROOT / "trainer")) == []


def test_a_circle_through_imports_inside_functions_is_found(tmp_path: Path) -> None:
    (tmp_path / "band").mkdir()
    lead = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from band.drums import Kick\n"
    files = {"lead.py": lead, "bass.py": "import band.lead\n", "drums.py": "from band import bass\n"}
    for name, text in files.items():
        (tmp_path / "band" / name).write_text(text)
    assert _circle(_imports(tmp_path / "band")) == []
    (tmp_path / "band" / "lead.py").write_text(lead + "def play():\n    from band.drums import Kick\n")
    assert set(_circle(_imports(tmp_path / "band"))) == {"band.lead", "band.bass", "band.drums"}
