"""The real program in a real terminal, heard at a real MIDI port on a JACK server."""

import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.playback.midi_listener import Listener
from tests.sound_servers import ServerMissingError, jack_server
from tests.terminal.emulator import Terminal, environment
from tests.terminal.test_stand_story import EXERCISE, put_on_stand

PORT = "outside synth"


@pytest.fixture
def listener(tmp_path: Path) -> Iterator[Listener]:
    try:
        with jack_server(tmp_path):
            made = Listener()
            yield made
            made.close()
    except ServerMissingError as missing:
        pytest.skip(str(missing))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    exercises = tmp_path / "data" / "twinspur" / "exercises"
    exercises.mkdir(parents=True)
    (exercises / "quay-iron.md").write_text(EXERCISE.replace("\\x1b", "?"), encoding="utf-8")
    return tmp_path


def open_trainer(folder: Path) -> Terminal:
    return Terminal("trainer", env=environment(folder))


def on_the_port(terminal: Terminal) -> None:
    """Choose the port, with the keys that anyone would use."""
    terminal.press("\x0f")
    terminal.wait("Where shall it sound?")
    terminal.wait(PORT)
    for _ in range(12):
        terminal.press("down")
        line = next((row for row in terminal.screen.display if PORT in row), "")
        y = terminal.screen.display.index(line)
        if terminal.screen.buffer[y][line.index(PORT)].bg != terminal.screen.buffer[0][0].bg:
            break
    terminal.press("enter")
    terminal.wait(lambda text: PORT in text.split("\n")[0])


def settle(terminal: Terminal, listener: Listener, seconds: float = 0.5) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        terminal.read(0.05)
    assert listener.messages


def sounding(messages: list[tuple[int, ...]]) -> set[tuple[int, int]]:
    """Channels and keys that were struck and not ended; "all sound off" ends everything on its channel."""
    on: set[tuple[int, int]] = set()
    for status, *rest in messages:
        kind, channel = status & 0xF0, status & 0x0F
        if kind == 0x90 and rest[1] > 0:
            on.add((channel, rest[0]))
        elif kind in (0x80, 0x90):
            on.discard((channel, rest[0]))
        elif kind == 0xB0 and rest[0] in (120, 123):
            on -= {each for each in on if each[0] == channel}
    return on


def test_notes_reach_the_port_and_leaving_ends_every_one(folder: Path, listener: Listener) -> None:
    terminal = open_trainer(folder)
    try:
        put_on_stand(terminal, sounds="")
        on_the_port(terminal)
        terminal.press("k", "k", "space")
        terminal.wait(lambda _: len(listener.notes()) > 40)
        struck = {message[0] & 0x0F for message in listener.notes()}
        assert len(struck) == 3  # two guitars and the click
        terminal.press("tab", "j")
        settle(terminal, listener, 0.6)
        listener.messages.clear()
        settle(terminal, listener, 1.2)
        assert len({message[0] & 0x0F for message in listener.notes() if message[0] & 0xF0 == 0x90}) == 2
        assert terminal.leave() == 0
        time.sleep(0.2)
        assert sounding(listener.messages) == set()
        assert listener.silenced()
    finally:
        terminal.close()


def test_killed_in_the_middle_of_a_note_the_next_start_silences_the_port_and_goes_on_there(
    folder: Path, listener: Listener
) -> None:
    terminal = open_trainer(folder)
    put_on_stand(terminal, sounds="")
    on_the_port(terminal)
    terminal.press("k", "k", "]", "t", *"150%", "enter", "space")
    terminal.wait("pass 3")
    terminal.child.kill(9)
    terminal.close()
    time.sleep(0.5)
    database = sqlite3.connect(folder / "data" / "twinspur" / "log.sqlite")
    assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert database.execute("SELECT count(*) FROM passes").fetchone()[0] >= 2
    database.close()
    listener.messages.clear()
    again = open_trainer(folder)
    try:
        again.wait("F3 goes on with quay-iron, Winch")
        assert listener.silenced()
        again.press("f3")
        again.wait("bar 1 of 2")
        again.wait(lambda text: PORT in text.split("\n")[0])
        assert "285 → 190" in again.text
        assert again.leave() == 0
    finally:
        again.close()
