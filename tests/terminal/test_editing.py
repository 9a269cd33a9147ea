"""The terminal is handed to the player's editor, and taken back with what was written on the shelf."""

from pathlib import Path

from tests.terminal.emulator import Terminal, environment

EDITOR = """
import sys
from pathlib import Path
path = Path(sys.argv[1])
print("THE EDITOR HAS", path.name, flush=True)
input()
path.write_text(path.read_text("utf-8").replace('title = "', 'title = "Zinc '), "utf-8")
"""


def test_the_chosen_exercise_is_edited_in_a_copy_and_a_new_one_is_begun(tmp_path: Path) -> None:
    script = tmp_path / "editor.py"
    script.write_text(EDITOR)
    editor = f"python3 '{script}'"
    terminal = Terminal(
        "trainer", env=environment(tmp_path, EDITOR=editor, PULSE_SERVER="unix:/nowhere"), size=(100, 30)
    )
    try:
        terminal.wait("Before you play")
        terminal.press("escape")
        terminal.wait(lambda text: "Before you play" not in text)
        terminal.press("\x07")
        terminal.wait("THE EDITOR HAS turning-tide.md")
        terminal.press("enter")
        terminal.wait("Zinc Against the Tide Mill")
        own = tmp_path / "data" / "twinspur" / "exercises" / "turning-tide.md"
        assert 'title = "Zinc Against' in own.read_text("utf-8")
        terminal.press("\x02")
        terminal.wait("new exercise's title")
        terminal.press(*"Grey Mole", "enter")
        terminal.wait("THE EDITOR HAS grey-mole.md")
        terminal.press("enter")
        terminal.wait("Zinc Grey Mole")
        assert terminal.leave() == 0
    finally:
        terminal.close()
