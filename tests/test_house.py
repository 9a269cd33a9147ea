"""The house keeps its rules: style, types, the direction of imports, and a light start."""

import subprocess
import sys
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


def test_no_file_is_two() -> None:
    long = [
        f"{path.relative_to(ROOT)} has {lines} lines"
        for room in ("trainer", "tests", "patches")
        for path in (ROOT / room).rglob("*.py")
        if (lines := len(path.read_text("utf-8").splitlines())) > 600
    ]
    assert long == []
