"""Thousands of random keys while it plays.

Run as `python -m tests.benchmarks.storms [--keys 3000] [--seeds 20] [--sizes 80x24,120x40]`.

For each seed and size the real program runs in a pseudo-terminal, opens the bundled exercises and practises; then come
the keys, all that a keyboard has but the four that end or stop a program. Afterwards it must still answer, leave by
Ctrl+Q with code 0, have written down no mistake of its own, and every note that it began must have ended. Prints for
each storm what was played, its memory before, in the middle and after (resident, the program's / with all its
processes), and what went wrong.
"""

import argparse
import json
import random
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import psutil

from tests.terminal.emulator import KEYS, Terminal, environment

PROGRAM = Path(__file__).parents[1] / "terminal" / "recorded_program.py"
NAMED = [code for name, code in KEYS.items() if name != "ctrl+q"]
CONTROLS = [chr(code) for code in range(1, 27) if chr(code) not in "\x03\x11\x1a\x1c\x13"]
"""Ctrl with a letter, without C (interrupt), Q (leave), Z (sleep) and S (stop the terminal)."""
TYPED = [chr(code) for code in range(33, 127)] + ["é", "²", "\u202e", "\x1b[1;5C", "\x1b[Z", "\x1b[15~", "\x1b[3~"]
MORE_MIB = 40.0
"""What the program's own memory may grow by in a storm: what was opened on the way (numpy, FluidSynth) stays loaded."""


@dataclass(frozen=True, slots=True)
class Storm:
    """What one storm left."""

    notes: int
    """Notes begun."""
    begun_mib: tuple[float, float]
    """Memory before the first key: of the program, and of it with the processes that it started."""
    middle_mib: tuple[float, float]
    ended_mib: tuple[float, float]
    wrong: tuple[str, ...]
    """What went wrong, in words."""


def storm(folder: Path, seed: int, size: tuple[int, int], keys: int) -> Storm:
    """One storm of so many keys in folders of its own."""
    chance = random.Random(seed)
    notes, wrong = folder / "notes.jsonl", []
    begun = middle = ended = (0.0, 0.0)
    terminal = Terminal(str(PROGRAM), str(notes), env=environment(folder, EDITOR="true"), size=size, file=True)
    try:
        terminal.wait("Shelf")
        terminal.press("escape")
        _open_the_stand(terminal)
        terminal.press("space")
        terminal.read(3.0)
        begun = middle = ended = _mib(terminal)
        for number in range(keys):
            terminal.child.send(_key(chance))
            terminal.drain(0.03 if number % 50 else 0.5)
            if not terminal.child.isalive():
                wrong.append(f"ended after {number + 1} keys")
                break
            if number == keys // 2:
                middle = _mib(terminal)
        if terminal.child.isalive():
            wrong += _still_answers(terminal)
            ended = _mib(terminal)
            code = terminal.leave()
            wrong += [f"left with code {code}"] if code else []
    except AssertionError as seen:
        return Storm(_count(notes)["NOTE_ON"], begun, middle, ended, (str(seen)[:2000],))
    finally:
        terminal.close()
    wrong += [path.read_text("utf-8")[-3000:] for path in sorted(folder.rglob("*mistake*"))]
    wrong += [f"{part} {key}: {count} notes begun and not ended" for (part, key), count in _hanging(notes).items()]
    return Storm(_count(notes)["NOTE_ON"], begun, middle, ended, tuple(wrong))


def _open_the_stand(terminal: Terminal) -> None:
    """Press Enter until it opens: the shelf may still be read, and the first start's words may lie above."""
    for _ in range(20):
        terminal.read(1.0)
        if "mine" in terminal.text:
            return
        terminal.press("enter")
    terminal.wait("mine")


def _key(chance: random.Random) -> str:
    kind = chance.random()
    if kind < 0.55:
        return chance.choice(TYPED)
    return chance.choice(NAMED if kind < 0.93 else CONTROLS)


def _still_answers(terminal: Terminal) -> list[str]:
    """Close what is open and ask for the help and back: what did not come, in words."""
    for _ in range(12):
        terminal.child.send(KEYS["escape"])
        terminal.drain(0.3)
    before = len(terminal.seen)
    terminal.child.send(KEYS["f1"])
    terminal.drain(3.0)
    return [] if len(terminal.seen) > before else ["does not answer F1"]


def _mib(terminal: Terminal) -> tuple[float, float]:
    """Resident memory of the program, and of it with all that it started."""
    own = psutil.Process(terminal.child.pid)
    alone, whole = own.memory_info().rss, 0
    for process in (own, *own.children(recursive=True)):
        try:
            whole += process.memory_info().rss
        except psutil.NoSuchProcess:
            continue
    return alone / 2**20, whole / 2**20


def _lines(path: Path) -> list[tuple[float, str, str, int, int]]:
    return [tuple(json.loads(line)) for line in path.read_text("utf-8").splitlines()] if path.exists() else []


def _count(path: Path) -> Counter[str]:
    return Counter(kind for _, kind, _, _, _ in _lines(path))


def _hanging(path: Path) -> dict[tuple[str, int], int]:
    """Notes that neither an end nor a silence followed."""
    open_: Counter[tuple[str, int]] = Counter()
    for _, kind, part, key, _ in _lines(path):
        if kind == "SILENCE":
            open_.clear()
        elif kind == "NOTE_ON":
            open_[part, key] += 1
        elif kind == "NOTE_OFF":
            open_[part, key] = max(open_[part, key] - 1, 0)
    return {each: count for each, count in open_.items() if count}


def main() -> int:
    """Storm it as often as asked; 1 where something went wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--keys", type=int, default=3000)
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("--sizes", default="80x24,120x40")
    asked = parser.parse_args()
    bad = 0
    for size in (tuple(map(int, each.split("x"))) for each in asked.sizes.split(",")):
        for seed in range(asked.first, asked.first + asked.seeds):
            with tempfile.TemporaryDirectory() as folder:
                found = storm(Path(folder), seed, (size[0], size[1]), asked.keys)
            grown = found.ended_mib[0] - found.begun_mib[0]
            wrong = [*found.wrong, *([f"grew by {grown:.0f} MiB"] if grown > MORE_MIB else [])]
            sizes = [f"{own:.0f}/{whole:.0f}" for own, whole in (found.begun_mib, found.middle_mib, found.ended_mib)]
            told = f"{found.notes} notes, {', '.join(sizes)} MiB"
            print(f"{size[0]}x{size[1]} seed {seed}: {told}; {'; '.join(wrong) or 'ok'}", flush=True)
            bad += bool(wrong)
    print(f"{bad} storms with something wrong")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
