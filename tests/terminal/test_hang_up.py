"""A terminal that closes under the program: it ends, and leaves the record sound."""

import os
import signal
import threading
import time
from pathlib import Path

import pytest

from tests.terminal.emulator import Terminal, environment
from trainer.screens.hang_up import LOOK_MS, HangUpWatch


def _ended(pid: int, seconds: float) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            if os.waitpid(pid, os.WNOHANG)[0]:
                return True
        except ChildProcessError:
            return True
        time.sleep(0.05)
    return False


@pytest.mark.parametrize("where", ["shelf", "stand"])
def test_the_program_ends_with_its_terminal(tmp_path: Path, where: str) -> None:
    terminal = Terminal("trainer", env=environment(tmp_path, PULSE_SERVER="unix:/nowhere"), size=(100, 30))
    terminal.wait("Shelf")
    if where == "stand":
        terminal.wait("Before you play")
        terminal.press("escape")
        terminal.wait(lambda text: "Before you play" not in text)
        terminal.press("enter")
        terminal.wait("guitar 1 mine")
    child = terminal.child
    # The window closes while the program is held up, so that the signal and the failing writes come at once.
    os.kill(child.pid, signal.SIGSTOP)
    os.close(child.child_fd)
    child.closed = True
    os.kill(child.pid, signal.SIGCONT)
    ended = _ended(child.pid, 15)
    if not ended:
        os.kill(child.pid, signal.SIGKILL)
        os.waitpid(child.pid, 0)
    assert ended


def test_a_hang_up_silences_first_and_then_ends_the_process() -> None:
    outer, inner = os.openpty()
    did: list[str] = []
    left = threading.Event()

    def leave(code: int) -> None:
        did.append(f"left with {code}")
        left.set()

    watch = HangUpWatch(lambda: did.append("silenced"), inner, leave)
    time.sleep(0.2)
    assert did == []
    os.close(outer)
    assert left.wait(10)
    assert did == ["silenced", "left with 0"]
    watch.stop()
    os.close(inner)


def test_a_program_that_ends_by_itself_is_not_ended_twice() -> None:
    outer, inner = os.openpty()
    did: list[str] = []
    with HangUpWatch(lambda: did.append("silenced"), inner, lambda code: did.append("left")):
        pass
    os.close(outer)
    time.sleep(LOOK_MS / 1000 + 0.2)
    assert did == []
    os.close(inner)
