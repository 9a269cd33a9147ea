"""The level before `listen` begins, as a line on a terminal and as one line elsewhere."""

import os
import pty
import subprocess
import sys
import time

import numpy as np
import pytest

from trainer.commands import level_line
from trainer.commands.level_line import bar, watch_level, words
from trainer.listening.capture import Capture, Level

LOUD, FULL, NOTHING = Level(-12.0, False, False), Level(0.0, True, False), Level(-120.0, False, True)


class Status:
    input_overflow = False


def capture(level: float, channels: int = 1, seconds: float = 0.5) -> Capture:
    """An input at which something was heard."""
    opened = Capture(None, 48_000, channels)
    block = np.zeros((480, channels), np.float32)
    block[5, -1] = level
    for _ in range(round(seconds * 100)):
        opened._take_block(block, 480, None, Status())
    return opened


def test_the_level_is_told_in_words_and_drawn_in_ascii() -> None:
    assert words(LOUD, 0, 1) == "Input: -12 dB"
    assert words(LOUD, 1, 2) == "Input 2: -12 dB"
    assert words(FULL, 0, 1) == "Input: 0 dB. The input clips: turn it down."
    assert words(LOUD, 0, 1, held=True).endswith("clips: turn it down.")
    assert "No signal: check the cable" in words(NOTHING, 0, 1)
    assert bar(LOUD, 10) == "[########..]"
    assert bar(NOTHING, 4) == "[....]"
    assert bar(FULL, 4) == "[####]"


def test_without_a_terminal_it_is_one_line(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(level_line, "LOOK_S", 0.0)
    assert watch_level(capture(0.25, 2)) == 1
    assert watch_level(capture(0.0)) is None
    assert watch_level(capture(0.0, seconds=3)) is None
    assert watch_level(capture(0.25), aloud=False) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "Input 2: -12 dB"
    assert told[1].endswith("Nothing is heard yet: play a little louder.")
    assert told[2].endswith("No signal: check the cable, the input and its level.")
    assert len(told) == 3


def test_on_a_terminal_the_line_stays_in_its_place_until_enter() -> None:
    code = (
        "from tests.commands.test_level_line import capture; from trainer.commands.level_line import watch_level; "
        "print('done', watch_level(capture(1.0, 2, 3.0)))"
    )
    terminal, theirs = pty.openpty()
    program = subprocess.Popen([sys.executable, "-c", code], stdin=theirs, stdout=theirs)
    os.close(theirs)
    said, end = b"", time.monotonic() + 60
    while said.count(b"\r") < 4 and time.monotonic() < end:
        said += os.read(terminal, 4096)
    os.write(terminal, b"\n")
    try:
        while b"done 1" not in said and time.monotonic() < end:
            said += os.read(terminal, 4096)
    except OSError:
        pass
    assert program.wait(20) == 0
    os.close(terminal)
    lines = said.decode().split("\r")
    assert any("Input 2: 0 dB. The input clips: turn it down." in line for line in lines)
    assert all(len(line.strip("\n")) < 80 for line in lines)
    assert "done 1" in said.decode()
