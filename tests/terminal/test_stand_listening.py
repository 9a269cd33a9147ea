"""The program listens on a sound server that is killed, that stands still, and with a disk that takes no more."""

import json
import resource
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psutil
import pytest

from tests.sound_servers import Pulse
from tests.terminal.emulator import Terminal, environment
from trainer.practice.cautions import CAUTIONS
from trainer.practice.log import Log
from trainer.practice.sittings import mark_seen
from trainer.session.listening import STANDSTILL_S
from trainer.session.own_machine import local_now

GALLOP = "0 0 0 0 0 0 3 3 3 2 2 2"
EXERCISE = f"""+++
title = "Brine Stair"
id = "brine-stair"
key = "E aeolian"
tempo = {{ start = 170, target = 170 }}
+++

## Slip

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & a 4 & a |
6     | {GALLOP} | {GALLOP} | {GALLOP} | {GALLOP} | x{{systems}}
```
"""
PATIENCE = 60.0
"""The words come at once; a machine that is busy with other tests takes its time."""


@contextmanager
def listening(folder: Path, systems: int = 1) -> Iterator[Terminal]:
    """The stand hears itself play, from the sink's monitor: four bars of six seconds, so many times over."""
    for place, text in (
        ("data/twinspur/exercises/brine-stair.md", EXERCISE.replace("{systems}", str(systems))),
        ("config/twinspur/config.toml", '[listening]\ndevice = "pulse"\n'),
    ):
        (folder / place).parent.mkdir(parents=True, exist_ok=True)
        (folder / place).write_text(text, "utf-8")
    log = Log.open(folder / "data" / "twinspur" / "log.sqlite", now=local_now)
    for caution in CAUTIONS:
        log.change(mark_seen, caution.id, 1)
    log.close()
    env = environment(folder, PYTHONPATH=str(Path.cwd()), PULSE_SINK="null", PULSE_SOURCE="null.monitor")
    terminal = Terminal("trainer", env=env, size=(120, 40))
    try:
        terminal.wait("Shelf", PATIENCE)
        terminal.press(*"brine")
        terminal.wait(lambda text: "Brine Stair" in text and "Bell Glass" not in text, PATIENCE)
        terminal.press("enter")
        terminal.wait("A guitar 1 mine", PATIENCE)
        terminal.wait("synth on", PATIENCE)
        while "count-in none" not in " ".join(terminal.text.split()):
            terminal.press("k")
        terminal.press("j", "L")
        terminal.wait("Which input is your guitar at?", PATIENCE)
        terminal.press("enter")
        if "cannot be opened" in terminal.wait(lambda text: "enter: listen" in text or "cannot" in text, PATIENCE):
            pytest.skip("PortAudio reaches no PulseAudio here")
        terminal.press("enter")
        terminal.wait("play a pass", PATIENCE)
        yield terminal
    finally:
        terminal.close()


def words(text: str) -> str:
    """What a screen says, whatever lines it is broken into."""
    return " ".join(text.split())


def takes(folder: Path) -> list[dict[str, Any]]:
    """What is kept beside each take, oldest first."""
    return [json.loads(path.read_text("utf-8")) for path in sorted(folder.glob("data/twinspur/takes/*.json"))]


def test_a_killed_sound_server_is_told_the_take_so_far_is_kept_and_the_program_goes_on(
    own_pulse: Pulse, tmp_path: Path
) -> None:
    with listening(tmp_path, systems=8) as terminal:
        terminal.press("space")
        terminal.read(6)
        own_pulse.process.send_signal(signal.SIGKILL)
        terminal.wait(lambda text: "went away" in words(text), PATIENCE)
        end = time.monotonic() + PATIENCE
        while not takes(tmp_path) and time.monotonic() < end:
            terminal.read(0.1)
        (take,) = takes(tmp_path)
        assert take["unfinished"] is True and take["first_bar"] == 1 and 1 <= take["last_bar"] < 32
        assert b"Expression" not in terminal.seen  # PortAudio prints about it where the screen is painted
        assert "Traceback" not in terminal.text
        terminal.press("f2")
        terminal.wait("Brine Stair", PATIENCE)
        assert terminal.leave() == 0


def test_a_sound_server_that_stands_still_ends_nothing(own_pulse: Pulse, tmp_path: Path) -> None:
    """The output hangs on the same server, and is given up meanwhile: it is opened anew with its key.

    That the input is heard again is told only where it was told to stand still.
    """
    with listening(tmp_path) as terminal:
        terminal.press("space")
        terminal.wait(lambda text: "pass 1:" in text, PATIENCE)
        own_pulse.process.send_signal(signal.SIGSTOP)
        terminal.wait("silence", PATIENCE)  # the output is given up
        terminal.read(2 * STANDSTILL_S)  # the input is told to stand still; whichever is told last is on the screen
        assert "Nothing comes in" in terminal.text or "The sound device" in terminal.text
        own_pulse.process.send_signal(signal.SIGCONT)
        terminal.wait(lambda text: "The input is heard again" in words(text), PATIENCE)
        terminal.press("y")
        terminal.wait("synth on", PATIENCE)
        terminal.press("space")
        kept = len(takes(tmp_path))
        end = time.monotonic() + PATIENCE
        while len(takes(tmp_path)) < kept + 2 and time.monotonic() < end:
            terminal.read(0.2)
        assert len(takes(tmp_path)) >= kept + 2
        assert terminal.leave() == 0


def test_a_full_disk_costs_the_take_and_nothing_else_and_the_next_one_is_kept_when_there_is_room(
    own_pulse: Pulse, tmp_path: Path
) -> None:
    with listening(tmp_path) as terminal:
        (judging,) = [
            child
            for child in psutil.Process(terminal.child.pid).children(recursive=True)
            if any("judge_worker" in word for word in child.cmdline())
        ]
        resource.prlimit(judging.pid, resource.RLIMIT_FSIZE, (50_000, resource.RLIM_INFINITY))
        terminal.press("space")
        terminal.wait(lambda text: "take cannot be kept" in words(text) and "pass 1:" in text, PATIENCE)
        assert not list(tmp_path.glob("data/twinspur/takes/*"))
        resource.prlimit(judging.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        end = time.monotonic() + PATIENCE
        while not takes(tmp_path) and time.monotonic() < end:
            terminal.read(0.2)
        assert takes(tmp_path)[0]["verdict"]["outcome"] in ("clean", "missed")
        assert terminal.leave() == 0
