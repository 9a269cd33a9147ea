"""The first paragraph of what the trainer is for, played in a real terminal.

Choose an exercise, loop a fast gallop at a tempo one can play, hear only the harmony line, step the speed up toward the
target, and find everything tomorrow where it was left: seen on the screen, and in the notes that reach the recorder.
"""

import json
import re
import signal
import sqlite3
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from statistics import median

import pytest

from tests.terminal.emulator import Terminal, environment

PROGRAM = "tests.terminal.recorded_program"

EXERCISE = """+++
title = "Quay Iron"
id = "quay-iron"
key = "E aeolian"
tempo = { start = 120, target = 190 }
ladder = { step = "4%", passes = 1 }
+++

[red]Not red[/red], and no \\x1b[31mcolour\\x1b[0m either: [a link](https://example.org).

## Winch

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a |
5     | 2 2 2 2 2 2 3 3 3 5 5 5 |                         |
6     |                         | 0 0 0 3 3 3 2 2 2 0 0 0 |
mute  | = = = = = = = = = = = = | = = = = = = = = = = = = |
```

```harmony guitar 2
follows = "guitar 1"
interval = "third above"
```
"""


class Sounded:
    """What the recorder has written."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def lines(self) -> list[tuple[float, str, str, int, int]]:
        if not self.path.exists():
            return []
        whole = self.path.read_text("utf-8").rsplit("\n", 1)[0]
        found = [tuple(json.loads(line)) for line in whole.split("\n") if line]
        return [line for line in found if line[1] != "ORIGIN"]

    def since(self, seconds: float, kind: str = "NOTE_ON") -> list[tuple[float, str]]:
        return [(at, part) for at, what, part, *_ in self.lines() if what == kind and at > seconds]

    def now(self) -> float:
        return max((at for at, *_ in self.lines()), default=0.0)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    exercises = tmp_path / "data" / "twinspur" / "exercises"
    exercises.mkdir(parents=True)
    text = EXERCISE.replace("\\x1b", "\x1b")
    (exercises / "quay-iron.md").write_text(text, encoding="utf-8")
    return tmp_path


def open_trainer(folder: Path, size: tuple[int, int] = (80, 24), **more: str) -> Terminal:
    return Terminal(PROGRAM, str(folder / "notes.jsonl"), env=environment(folder, **more), size=size)


@pytest.fixture
def terminal(folder: Path) -> Iterator[Terminal]:
    opened = open_trainer(folder)
    yield opened
    opened.close()


def put_on_stand(terminal: Terminal, sounds: str = "recorder") -> None:
    """Past the cautions of the first start, find the exercise by typing, and take it; wait until it can sound."""
    terminal.wait("Before you play")
    terminal.press("enter")
    terminal.wait(lambda text: "Before you play" not in text)
    terminal.press(*"quay")
    terminal.wait(lambda text: "Quay Iron" in text and "Bell Glass" not in text)
    terminal.press("enter")
    terminal.wait("A guitar 1 mine")
    terminal.wait(sounds)


def test_the_story(folder: Path, terminal: Terminal) -> None:
    sounded = Sounded(folder / "notes.jsonl")
    put_on_stand(terminal)
    assert "120 → 190 bpm" in terminal.text
    assert "A guitar 1 mine" in terminal.text and "AB" in terminal.text

    # A fast gallop, one bar of it, at a tempo that can be played.
    terminal.press("]", "t", *"60%", "enter")
    terminal.wait("114 → 190 bpm")
    terminal.wait("bar 1 of 2")
    terminal.press("space")
    terminal.wait(lambda _: len(sounded.since(0)) > 30)
    notes = sorted({round(at, 4) for at, part in sounded.since(0) if part == "guitar 1"})
    gaps = [b - a for a, b in pairwise(notes)]
    eighth = 60 / 114 / 2
    assert median(gaps[0::3]) == pytest.approx(eighth, rel=0.02)
    assert median(gaps[1::3]) == pytest.approx(eighth / 2, rel=0.02)

    # Only the harmony line.
    terminal.press("tab", "j")
    terminal.wait(lambda text: "guitar 1 mine silent" in text)
    mark = sounded.now() + 0.3
    terminal.wait(lambda _: len(sounded.since(mark)) > 12)
    assert {part for _, part in sounded.since(mark)} == {"guitar 2"}
    assert sounded.since(mark, "CLICK")

    # Step the speed up: the ladder takes one clean pass for a rung here.
    terminal.press("space", "l", "a", "2")
    terminal.wait("rung")
    before = int(re.search(r"(\d+) → 190", terminal.text)[1])  # type: ignore[index]
    terminal.press("space")
    terminal.wait(lambda text: "pass 2" in text)
    terminal.press("enter")
    climbed = terminal.wait("Pass 1: clean. Next:")
    after = int(re.search(r"(\d+) → 190", climbed)[1])  # type: ignore[index]
    assert after > before

    # Leave, and come back tomorrow.
    terminal.press("space", "b", *"2", "enter")
    terminal.wait("bar 2 of 2")
    left = int(re.search(r"(\d+) → 190", terminal.text)[1])  # type: ignore[index]
    assert terminal.leave() == 0
    lines = sounded.lines()
    assert lines[-1][1] == "SILENCE"
    ons = sum(1 for line in lines if line[1] == "NOTE_ON")
    offs = sum(1 for line in lines if line[1] == "NOTE_OFF")
    assert abs(ons - offs) <= 2

    again = open_trainer(folder)
    try:
        again.wait("Quay Iron")
        assert "Before you play" not in again.text
        again.wait("F3 goes on with quay-iron, Winch")
        again.press("f3")
        again.wait("bar 2 of 2")
        again.wait("rung")
        assert f"{left} → 190" in again.text
        assert again.leave() == 0
    finally:
        again.close()


def test_every_pass_is_in_the_log_with_its_verdict(folder: Path, terminal: Terminal) -> None:
    put_on_stand(terminal)
    terminal.press("]", "k", "k", "t", *"150%", "enter", "space")
    terminal.wait("pass 3")
    terminal.press("space", "backspace")
    terminal.wait("missed")
    terminal.leave()
    database = sqlite3.connect(folder / "data" / "twinspur" / "log.sqlite")
    found = [row[0] for row in database.execute("SELECT outcome FROM passes ORDER BY id")]
    database.close()
    assert len(found) >= 2 and found[-1] == "missed"
    assert set(found[:-1]) == {"unjudged"}


def test_resizing_while_it_plays_and_a_window_that_is_too_small(folder: Path, terminal: Terminal) -> None:
    sounded = Sounded(folder / "notes.jsonl")
    put_on_stand(terminal)
    terminal.press("space")
    terminal.wait(lambda _: len(sounded.since(0)) > 4)
    terminal.resize(20, 5)
    terminal.wait("too small")
    mark = sounded.now()
    terminal.wait(lambda _: len(sounded.since(mark)) > 4)
    terminal.resize(120, 40)
    terminal.wait("Quay Iron")
    terminal.wait("A guitar 1 mine")
    terminal.resize(80, 24)
    terminal.wait("AB")
    assert terminal.leave() == 0


def test_text_from_the_file_reaches_the_terminal_as_text_only(folder: Path) -> None:
    terminal = open_trainer(folder, (120, 40))
    try:
        put_on_stand(terminal)
        if "Not red" not in terminal.text:
            terminal.press("p")
        text = terminal.wait("Not red")
        assert "[red]Not red[/red]" in text
        assert "\\x1b[31mcolour" in text
        assert "(https://example.org)" in text
        assert b"\x1b]8;" not in terminal.seen
    finally:
        terminal.close()


def test_no_color_sends_no_colour(folder: Path) -> None:
    terminal = open_trainer(folder, NO_COLOR="1")
    try:
        put_on_stand(terminal)
        terminal.press("space")
        terminal.read(2)
        colours = re.findall(rb"\x1b\[[0-9;]*?(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])[;m]", terminal.seen)
        assert colours == []
        assert b"\x1b[7m" in terminal.seen or b";7m" in terminal.seen or b"[1;7" in terminal.seen
    finally:
        terminal.close()


def test_without_utf8_only_ascii_is_sent(folder: Path) -> None:
    terminal = open_trainer(folder, LC_ALL="C")
    try:
        terminal.wait("Before you play")
        framed = terminal.text
        terminal.press("enter", *"quay", "enter")
        terminal.wait("A guitar 1 mine")
        terminal.press("2", "n")
        terminal.read(0.5)
        terminal.press("f1")
        terminal.wait("Help: Stand")
        for shown in (framed, terminal.text):
            assert "+-----" in shown
            assert "\\u" not in shown and "\\x" not in shown, shown
        assert terminal.seen.isascii()
    finally:
        terminal.close()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_it_in_order(folder: Path, terminal: Terminal, number: signal.Signals) -> None:
    sounded = Sounded(folder / "notes.jsonl")
    put_on_stand(terminal)
    terminal.press("space")
    terminal.wait(lambda _: len(sounded.since(0)) > 4)
    terminal.child.kill(number)
    end = time.monotonic() + 60
    while terminal.child.isalive() and time.monotonic() < end:
        terminal.read(0.1)
    assert not terminal.child.isalive()
    assert sounded.lines()[-1][1] == "SILENCE"
