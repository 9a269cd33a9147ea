"""The program and the disk while it plays: passes reach the log in time, and another's change of the file is heard."""

import json
import sqlite3
import threading
import time
from pathlib import Path

from tests.terminal.emulator import Terminal
from tests.terminal.test_stand_story import PROGRAM, Sounded, folder, open_trainer, put_on_stand, terminal

__all__ = ["PROGRAM", "folder", "open_trainer", "terminal"]


class LogWatch(threading.Thread):
    """Another connection to the log, which notes when each pass is there."""

    def __init__(self, path: Path) -> None:
        super().__init__(daemon=True)
        self._path = path
        self._end = threading.Event()
        self.came: list[float] = []
        """Monotonic seconds, one for each pass."""

    def run(self) -> None:
        database = sqlite3.connect(self._path)
        while not self._end.wait(0.001):
            passes = database.execute("SELECT count(*) FROM passes").fetchone()[0]
            self.came += [time.monotonic()] * (passes - len(self.came))
        database.close()

    def finish(self) -> list[float]:
        self._end.set()
        self.join()
        return self.came


def test_each_pass_is_in_the_log_before_the_next_one_sounds(folder: Path, terminal: Terminal) -> None:
    sounded = Sounded(folder / "notes.jsonl")
    put_on_stand(terminal)
    terminal.press("]", "k", "k", "t", *"190", "enter")
    terminal.wait("bar 1 of 2")
    watch = LogWatch(folder / "data" / "twinspur" / "log.sqlite")
    watch.start()
    terminal.press("space")
    terminal.wait("pass 9")
    terminal.press("space")
    came = watch.finish()
    origin = next(json.loads(line)[0] for line in (folder / "notes.jsonl").read_text("utf-8").splitlines())
    begin = min(at for at, _ in sounded.since(0))
    downbeats = [origin + begin + number * 4 * 60 / 190 for number in range(1, len(came) + 1)]
    ahead = sorted(due - at for due, at in zip(downbeats, came, strict=True))
    assert len(came) >= 8
    # 50 to 80 ms less a thread's pause and the commit; a busy machine may hold up one or two.
    assert ahead[len(ahead) // 3] > 0, ahead
    assert ahead[-1] < 0.1


def test_a_file_that_somebody_changes_plays_on_with_the_new_notes(folder: Path, terminal: Terminal) -> None:
    path = folder / "data" / "twinspur" / "exercises" / "quay-iron.md"
    sounded, before = Sounded(folder / "notes.jsonl"), path.read_text("utf-8")
    put_on_stand(terminal)
    terminal.press("space")
    terminal.wait(lambda _: len(sounded.since(0)) > 12)
    path.write_text(before.replace("2 2 2 2 2 2 3 3 3 5 5 5", "7 7 7 7 7 7 8 8 8 9 9 9"), encoding="utf-8")
    terminal.wait("changed on disk: it is played")
    mark = sounded.now() + 0.5
    terminal.wait(lambda _: len(sounded.since(mark)) > 40)
    keys = {key for at, what, part, key, _ in sounded.lines() if what == "NOTE_ON" and part == "guitar 1" and at > mark}
    assert keys & {45 + 7, 45 + 8, 45 + 9} and not keys & {45 + 2, 45 + 5}

    path.write_text(before.replace("| 1 & a 2 & a 3", "| 1 & 9 2 & a 3", 1), encoding="utf-8")
    terminal.wait("quay-iron.md:")
    path.write_text(before.replace("## Winch", "## Capstan"), encoding="utf-8")
    terminal.wait("changed on disk: N")
    mark = sounded.now() + 0.3
    terminal.wait(lambda _: len(sounded.since(mark)) > 4)
    terminal.press("N")
    terminal.wait("Capstan")
    assert terminal.leave() == 0
