"""The program killed at random moments of practising: what is lost.

Run as `python -m tests.benchmarks.kills [--times 200] [--seed 1]`.

Each time the real program is started in a pseudo-terminal, goes on with what was on the stand, practises short passes
at once, is judged at random, and is killed (SIGKILL) between 0.2 and 2.5 seconds after that began. Then the database is
read: it must be sound, and hold every pass that the screen had said was over. Prints passes, losses and broken files.
"""

import argparse
import random
import re
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

from tests.terminal.emulator import Terminal, environment
from tests.terminal.test_stand_story import EXERCISE
from trainer.practice.cautions import CAUTIONS
from trainer.practice.log import Log
from trainer.practice.sittings import mark_seen
from trainer.session.choices import Choices
from trainer.session.memory import SessionMemory
from trainer.session.own_machine import local_now


def prepared(folder: Path) -> None:
    """One exercise, one bar of it looped at four times its target's pace, without a count-in."""
    data = folder / "data" / "twinspur"
    (data / "exercises").mkdir(parents=True)
    (data / "exercises" / "quay-iron.md").write_text(EXERCISE.replace("\\x1b", "?"), encoding="utf-8")
    log = Log.open(data / "log.sqlite", now=local_now)
    for caution in CAUTIONS:
        log.change(mark_seen, caution.id, 1)
    log.close()
    choices = Choices(last=0, bpm=400.0, count_in=0)
    memory = SessionMemory(folder / "state" / "twinspur" / "stand.json")
    memory.keep("quay-iron", "Winch", choices)
    memory.close()


def passes(folder: Path) -> tuple[int, bool]:
    """How many passes are logged, and whether the file is sound."""
    database = sqlite3.connect(folder / "data" / "twinspur" / "log.sqlite")
    try:
        sound = database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return database.execute("SELECT count(*) FROM passes").fetchone()[0], sound
    finally:
        database.close()


def once(folder: Path, program: Path, chance: random.Random, before: int) -> tuple[int, int]:
    """Practise and be killed: passes seen on the screen, and passes that the log got."""
    terminal = Terminal(str(program), str(folder / "notes.jsonl"), env=environment(folder), file=True)
    try:
        terminal.wait("Shelf")
        terminal.press("f3")
        terminal.wait("A guitar 1 mine")
        terminal.wait("recorder")
        terminal.press("space")
        end = time.monotonic() + chance.uniform(0.2, 2.5)
        while time.monotonic() < end:
            terminal.press(chance.choice(("enter", "backspace", "up", "down")))
        seen = re.search(r"pass (\d+)", terminal.text)
        terminal.child.kill(9)
    finally:
        terminal.close()
    shown = int(seen[1]) - 1 if seen else 0
    return shown, passes(folder)[0] - before


def main() -> int:
    """Kill it as often as asked; 1 where something was lost."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    chance = random.Random(arguments.seed)
    lost = broken = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        prepared(folder)
        program = Path("tests/terminal/recorded_program.py").resolve()
        for _ in range(arguments.times):
            before, sound = passes(folder)
            shown, logged = once(folder, program, chance, before)
            lost += max(0, shown - logged)
            broken += not passes(folder)[1]
        total, sound = passes(folder)
        broken += not sound
    print(f"killed {arguments.times} times: {total} passes logged, {lost} lost, {broken} times not sound")
    return 1 if lost or broken else 0


if __name__ == "__main__":
    sys.exit(main())
