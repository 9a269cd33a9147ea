"""The way to a kept take in a real terminal: open the takes, hear one on a real sound server, delete it."""

from collections.abc import Iterator
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.sound_servers import Pulse
from tests.terminal.emulator import Terminal
from tests.terminal.test_stand_story import Sounded, folder, open_trainer, put_on_stand
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes

__all__ = ["folder"]


@pytest.fixture
def takes(folder: Path) -> Takes:
    """One take of the exercise, at its target tempo."""
    notes = tuple(MidiNote(Fraction(k * 60, 190) / 2, 47, 0, 100) for k in range(16))
    info = TakeInfo("quay-iron", "Winch", "guitar 1", first_bar=1, last_bar=2, tempo_bpm=190.0, start_s=0.0)
    kept = Takes(folder / "data" / "twinspur" / "takes")
    kept.keep(MidiTake(notes), None, info, datetime(2031, 5, 3, 18, 0, tzinfo=UTC))
    return kept


@pytest.fixture
def terminal(folder: Path, takes: Takes, pulse: Pulse) -> Iterator[Terminal]:
    opened = open_trainer(folder, PULSE_SERVER=pulse.server)
    yield opened
    opened.close()


def test_without_a_sound_card_a_sentence_says_so_and_nothing_is_printed_across(folder: Path, takes: Takes) -> None:
    # ALSA would find the JACK server of other tests, and the take would be heard there.
    nowhere = {"PULSE_SERVER": "unix:/nowhere", "PULSE_RUNTIME_PATH": str(folder), "JACK_DEFAULT_SERVER": "nowhere"}
    terminal = open_trainer(folder, **nowhere)
    try:
        put_on_stand(terminal)
        terminal.press("T")
        terminal.wait("2031-05-03 18:00")
        terminal.press("space")
        terminal.wait(lambda text: "no sound output" in text or "cannot be opened" in text)
        terminal.read(0.5)
        lines = [line.rstrip() for line in terminal.text.splitlines()]
        assert lines[0].startswith(" Takes  Quay Iron") and lines[-1].startswith(" space hear")
        assert "ALSA" not in terminal.text and "PortAudio" not in terminal.text
        assert terminal.leave() == 0
    finally:
        terminal.close()


def test_a_take_is_heard_while_the_stand_is_silent_and_deleted(
    folder: Path, terminal: Terminal, takes: Takes, pulse: Pulse, tmp_path: Path
) -> None:
    sounded, recording = Sounded(folder / "notes.jsonl"), tmp_path / "heard.raw"
    put_on_stand(terminal)
    terminal.press("space")
    terminal.wait(lambda _: len(sounded.since(0)) > 4)
    terminal.press("T")
    terminal.wait("2031-05-03 18:00")
    with pulse.recording(recording):
        terminal.press("space")
        terminal.wait("You hear it with click and part")
        terminal.wait("space: hear it")  # it has come to its end
    assert np.abs(np.fromfile(recording, np.float32)).max() > 0.02
    last = max(at for at, *_ in sounded.lines())
    terminal.read(1.0)
    assert max(at for at, *_ in sounded.lines()) == last  # the stand plays no more
    ons, offs = (sum(line[1] == kind for line in sounded.lines()) for kind in ("NOTE_ON", "NOTE_OFF"))
    assert abs(ons - offs) <= 2

    terminal.press("space")
    terminal.wait("You hear it")
    terminal.press("x")
    terminal.wait("for good?")
    terminal.press("down", "enter")
    terminal.wait("is gone")
    assert takes.all() == ()
    assert "space" in terminal.text
    terminal.press("escape")
    terminal.wait("A guitar 1 mine")
    assert terminal.leave() == 0
