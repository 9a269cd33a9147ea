"""A mistake of the program's own ends it in order, with a sentence, and is written down."""

import re
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.terminal.emulator import Terminal, environment
from trainer.commands import sounds
from trainer.commands.line import OWN_MISTAKE, main
from trainer.own_mistake import KEPT, write_down

AT = datetime(2031, 3, 1, 12, tzinfo=UTC)
BROKEN = """
import sys
from trainer.screens.shelf import ShelfScreen
import threading
def broken(self):
    huge = list(range(100_000))
    raise TypeError("no such [b]string[/b]")
def beside(self):
    threading.Thread(target=broken, args=(self,)).start()
ShelfScreen.action_show_all = {what}
from trainer.__main__ import main
sys.exit(main([]))
"""


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    return tmp_path / "twinspur"


def fail() -> None:
    raise TypeError("neither here\nnor there")


def caught() -> Exception:
    try:
        fail()
    except TypeError as error:
        return error
    raise AssertionError


def test_it_is_written_down_with_where_it_happened(state: Path) -> None:
    told = write_down(caught(), AT)
    assert "\n" not in told
    assert "TypeError: neither here" in told
    assert str(state / "mistake-20310301-120000.txt") in told
    assert "in fail" in (state / "mistake-20310301-120000.txt").read_text("utf-8")


def test_the_oldest_descriptions_go(state: Path) -> None:
    for number in range(KEPT + 3):
        write_down(caught(), AT + timedelta(seconds=number))
    left = sorted(path.name for path in state.iterdir())
    assert len(left) == KEPT
    assert left[0] == "mistake-20310301-120003.txt"


def test_without_a_place_to_write_it_is_still_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    told = write_down(caught(), AT)
    assert "TypeError" in told and "written" not in told


def test_a_command_tells_it_in_a_sentence(
    state: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sounds, "run", lambda _: fail())
    assert main(["sounds"]) == OWN_MISTAKE
    told = capsys.readouterr().err
    assert told.startswith("twinspur: Twinspur made a mistake of its own (TypeError: neither here)")
    assert "Traceback" not in told
    assert len(list(state.iterdir())) == 1


def test_the_trainer_ends_quickly_and_says_where_it_is_written(tmp_path: Path) -> None:
    program = tmp_path / "broken.py"
    program.write_text(BROKEN.format(what="broken"))
    terminal = Terminal(str(program), env={**environment(tmp_path), "PYTHONPATH": sys.path[0] or "."}, file=True)
    try:
        terminal.wait("Before you play")
        terminal.press("enter", "escape")
        shown = terminal.wait("mistake of its own")
        assert "Traceback" not in shown
        assert "[b]string[/b]" in shown
        terminal.child.wait()
        assert terminal.child.exitstatus == OWN_MISTAKE
        (kept,) = (tmp_path / "state" / "twinspur").glob("mistake-*.txt")
        assert re.search(r"TypeError: no such \[b\]string", kept.read_text("utf-8"))
    finally:
        terminal.close()


def test_a_thread_that_fails_leaves_the_screen_alone_and_is_told_on_it(tmp_path: Path) -> None:
    program = tmp_path / "broken.py"
    program.write_text(BROKEN.format(what="beside"))
    terminal = Terminal(str(program), env={**environment(tmp_path), "PYTHONPATH": sys.path[0] or "."}, file=True)
    try:
        terminal.wait("Before you play")
        terminal.press("enter", "escape")
        shown = terminal.wait("goes on")
        assert "21 exercises" in shown and "Traceback" not in shown
        terminal.press("ctrl+q")
        terminal.child.wait()
        assert terminal.child.exitstatus == 0
        assert len(list((tmp_path / "state" / "twinspur").glob("mistake-*.txt"))) == 1
    finally:
        terminal.close()
