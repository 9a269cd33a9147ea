"""The program in a pseudo-terminal, read back through a terminal emulator."""

import os
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import pexpect
import pyte

KEYS = {
    "enter": "\r", "escape": "\x1b", "backspace": "\x7f", "up": "\x1b[A", "down": "\x1b[B", "right": "\x1b[C",
    "left": "\x1b[D", "tab": "\t", "ctrl+q": "\x11", "space": " ", "pageup": "\x1b[5~", "pagedown": "\x1b[6~",
    "f1": "\x1bOP", "f2": "\x1bOQ", "f3": "\x1bOR",
}  # fmt: skip
PATIENCE = 60.0


def environment(folder: Path, **more: str) -> dict[str, str]:
    """An environment whose folders are the test's own."""
    kept = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "COLUMNS", "LINES")}
    places = {f"XDG_{name}_HOME": str(folder / name.lower()) for name in ("DATA", "CONFIG", "STATE", "CACHE")}
    return kept | places | {"TERM": "xterm-256color", "COLORTERM": "truecolor", "LANG": "C.UTF-8"} | more


class Terminal:
    """A program on a terminal of some size."""

    def __init__(
        self,
        module: str,
        *arguments: str,
        env: Mapping[str, str],
        size: tuple[int, int] = (80, 24),
        file: bool = False,
    ) -> None:
        columns, lines = size
        self.screen = pyte.Screen(columns, lines)
        self.stream = pyte.ByteStream(self.screen)
        self.seen = b""
        self.child = pexpect.spawn(
            sys.executable,
            [*(() if file else ("-m",)), module, *arguments],
            env=dict(env),
            dimensions=(lines, columns),
            timeout=PATIENCE,
        )

    def read(self, seconds: float = 0.05) -> None:
        """Take in what the program writes for a while."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                data = self.child.read_nonblocking(65536, timeout=0.02)
            except pexpect.TIMEOUT:
                continue
            except pexpect.EOF:
                return
            self.seen += data
            # pyte does not know private modes with "$p", nor the keyboard protocol's ">...u" and "<...u".
            self.stream.feed(_without_queries(data))

    def drain(self, seconds: float) -> None:
        """Take in what the program writes for a while, without looking at it: cheap for whoever measures."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            try:
                self.seen += self.child.read_nonblocking(1 << 20, timeout=min(left, 0.1))
            except pexpect.TIMEOUT:
                continue
            except pexpect.EOF:
                return
            time.sleep(0.01)

    def follow(self, seconds: float) -> list[tuple[float, tuple[int, int]]]:
        """When the playhead came to another cell: (monotonic seconds, (line, cell))."""
        came: list[tuple[float, bytes]] = []
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                data = self.child.read_nonblocking(1 << 20, timeout=0.1)
            except pexpect.TIMEOUT:
                continue
            came.append((time.monotonic(), data))
        found: list[tuple[float, tuple[int, int]]] = []
        for at, data in came:  # the emulator is slower than the program
            self.stream.feed(_without_queries(data))
            cell = self._playhead()
            if cell is not None and (not found or found[-1][1] != cell):
                found.append((at, cell))
        return found

    def _playhead(self) -> tuple[int, int] | None:
        """The topmost cell of the playhead: the first one that has a ground of its own."""
        usual = self.screen.buffer[1][0].bg
        for y in range(1, self.screen.lines):
            line = self.screen.buffer[y]
            for x in range(self.screen.columns):
                if line[x].bg != usual or line[x].reverse:
                    return y, x
        return None

    @property
    def text(self) -> str:
        """What the screen shows."""
        return "\n".join(self.screen.display)

    def wait(self, come: Callable[[str], bool] | str, patience: float = PATIENCE) -> str:
        """Read until the screen shows some words, or something else is so; answers with the screen's text."""
        end = time.monotonic() + patience
        while True:
            self.read()
            if (come in self.text) if isinstance(come, str) else come(self.text):
                return self.text
            assert time.monotonic() < end, f"waited for {come!r}, and the screen shows:\n{self.text}"

    def press(self, *keys: str) -> None:
        """Press keys, by their names or as they are typed."""
        for key in keys:
            self.child.send(KEYS.get(key, key))
            self.read(0.08)

    def resize(self, columns: int, lines: int) -> None:
        """Make the window another size."""
        self.screen.resize(lines, columns)
        self.child.setwinsize(lines, columns)
        self.read(0.3)

    def leave(self) -> int:
        """Press Ctrl+Q, and answer with the exit code."""
        self.child.send(KEYS["ctrl+q"])
        end = time.monotonic() + PATIENCE
        while self.child.isalive() and time.monotonic() < end:
            self.read(0.1)
        assert not self.child.isalive(), self.text
        self.child.close()
        return int(self.child.exitstatus or 0)

    def close(self) -> None:
        """End it, whatever it does."""
        if self.child.isalive():
            self.child.terminate(force=True)
        self.child.close()


def _without_queries(data: bytes) -> bytes:
    import re

    return re.sub(rb"\x1b\[(?:\?[0-9;]*\$p|[<>=][0-9;]*u|>[0-9;]*[mq])", b"", data)
