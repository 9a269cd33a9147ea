"""The README's first ten minutes in a real terminal: its keys in its order, and what it says that they do."""

import json
import re
from pathlib import Path

from tests.terminal.emulator import Terminal, environment
from tests.terminal.test_stand_story import PROGRAM

README = Path(__file__).parents[2] / "README.md"


def lesson() -> list[list[str]]:
    """The keys of each row of the table."""
    table = README.read_text("utf-8").partition("## Your first ten minutes")[2].partition("\n## ")[0]
    return [re.findall(r"`([^`]+)`", row) for row in re.findall(r"^\| (`[^|]*) \|", table, re.M)]


def test_each_key_does_what_the_readme_says(tmp_path: Path) -> None:
    notes = tmp_path / "notes.jsonl"
    shown = {
        "escape": lambda text: "Before you play" not in text and "Shelf" in text,
        "causeway": lambda text: "1 of 1" in text,
        "enter": lambda text: "guitar 1 mine" in text and "92" in text and "168 bpm" in text,
        "space": lambda text: "pass 1" in text or "count-in" in text,
        "2": lambda text: "rung 1 of" in text,
        "60": lambda text: "60" in text,
    }
    terminal = Terminal(PROGRAM, str(notes), env=environment(tmp_path), size=(110, 34))
    try:
        terminal.wait("Before you play")
        rows = lesson()
        assert [row[0] for row in rows][:4] == ["escape", "causeway", "enter", "space"] and len(rows) == 11
        for row in rows[:7]:
            for key in row:
                terminal.press(*(key if key in ("causeway", "60") else (key,)))
            terminal.wait(shown.get(row[1] if len(row) > 1 else row[0], lambda text: True))
        terminal.wait(lambda text: "pass 2" in text)
        terminal.press(*rows[7])
        terminal.wait(lambda text: "clean" in text and "Pass" in text)
        terminal.press(*rows[8])
        terminal.wait(lambda text: "missed" in text or "not clean" in text)
        terminal.press(*rows[9])
        terminal.wait("space start")
        assert terminal.leave() == 0
    finally:
        terminal.close()
    heard = [json.loads(line) for line in notes.read_text("utf-8").splitlines()]
    assert any(kind == "NOTE_ON" and part == "bass" for _, kind, part, _, _ in heard)
