"""Explaining, fingering and harmonising in a real terminal: seen, heard by the recorder, found in the file."""

from itertools import pairwise
from pathlib import Path

from tests.terminal.emulator import Terminal
from tests.terminal.test_stand_story import EXERCISE, PROGRAM, Sounded, folder, open_trainer, put_on_stand, terminal
from trainer.places import bundled

__all__ = ["PROGRAM", "folder", "terminal"]
CTRL_S, CTRL_Z = "\x13", "\x1a"
"""As a terminal sends them; others stop the output, or the program, with these."""


def steps(sounded: Sounded, since: float) -> set[int]:
    """How far the second guitar's notes lay over the first one's that began with them, in semitones."""
    keys: dict[float, dict[str, int]] = {}
    for at, what, part, key, _ in sounded.lines():
        if what == "NOTE_ON" and at > since:
            keys.setdefault(at, {})[part] = key
    return {found["guitar 2"] - found["guitar 1"] for found in keys.values() if len(found) == 2}


def test_a_harmony_is_tried_while_it_plays_written_and_taken_back(folder: Path, terminal: Terminal) -> None:
    path = folder / "data" / "twinspur" / "exercises" / "quay-iron.md"
    sounded, before = Sounded(folder / "notes.jsonl"), path.read_bytes()
    put_on_stand(terminal)
    terminal.press("x")
    terminal.wait("Hardest in bar")
    terminal.press("x", "space")
    terminal.wait(lambda _: len(sounded.since(0)) > 12)
    assert {3} <= steps(sounded, 0) <= {3, 4}

    terminal.press("H")
    terminal.wait("No third below. Bar 2: the answer to")
    terminal.press("H")
    terminal.wait("not written: guitar 2: sixth above")
    mark = sounded.now() + 0.5
    terminal.wait(lambda _: len(sounded.since(mark)) > 24)
    assert {8} <= steps(sounded, mark) <= {8, 9}
    onsets = sorted({at for at, part in sounded.since(0) if part == "guitar 1"})
    eighth = 60 / 120 / 2
    assert max(b - a for a, b in pairwise(onsets)) < 1.2 * eighth  # it never stopped

    terminal.press(CTRL_S)
    terminal.wait("Written into quay-iron.md")
    assert path.read_bytes() == before.replace(b"third above", b"sixth above")
    terminal.press(CTRL_Z)
    terminal.wait("quay-iron.md is as it was before")
    assert path.read_bytes() == before
    terminal.press(">")
    terminal.wait("guitar 1, fingering 1")
    assert terminal.leave() == 0
    assert path.read_bytes() == before and "sixth" not in EXERCISE


def test_a_bundled_exercise_is_written_into_a_copy_of_ones_own(folder: Path) -> None:
    shelf = bundled("exercises") / "lamplighters.md"
    before = shelf.read_bytes()
    opened = open_trainer(folder, (120, 40))
    try:
        opened.wait("Before you play")
        opened.press("enter", *"lampl")
        opened.wait(lambda text: "Lamplighters" in text and "Bell Glass" not in text)
        opened.press("enter")
        opened.wait("A guitar 1 mine")
        opened.press(">")
        opened.wait("not written: guitar 1: fingering 1")
        opened.press(CTRL_S)
        opened.wait("Written into a copy of your own")
        own = folder / "data" / "twinspur" / "exercises" / "lamplighters.md"
        assert b"finger |" in own.read_bytes() and shelf.read_bytes() == before
        opened.press(CTRL_Z)
        opened.wait("gone again")
        assert not own.exists()
        assert opened.leave() == 0
    finally:
        opened.close()


def test_the_explanation_is_scrolled_and_put_away(folder: Path, terminal: Terminal) -> None:
    put_on_stand(terminal)
    terminal.press("x")
    assert "A guitar 1 at 120 bpm" in terminal.wait("Hardest in bar")
    terminal.press("d", "d")
    terminal.wait(lambda text: "Hardest in bar" not in text)
    terminal.press("x")
    terminal.wait(lambda text: "The ceiling of" not in text)
    assert terminal.leave() == 0
