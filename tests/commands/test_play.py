"""play in a real terminal, on real servers: what is shown, what sounds, and how it ends."""

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pexpect
import pytest
import rtmidi

from tests.sound_servers import Pulse, wait_until

PLAY = ["-m", "trainer", "play", "iron.md"]


def _terminal(*words: str) -> pexpect.spawn:
    return pexpect.spawn(sys.executable, [*PLAY, *words], encoding="utf-8", timeout=60, dimensions=(24, 120))


@pytest.fixture
def _in_work(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Children find the program and an empty home."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))


@pytest.mark.usefixtures("_in_work")
def test_one_line_shows_where_the_playing_is_and_ctrl_c_ends_it(pulse: Pulse, tmp_path: Path) -> None:
    recording = tmp_path / "heard.raw"
    with pulse.recording(recording):
        program = _terminal("--riff", "Low road", "--tempo", "200", "--click", "gallop")
        program.expect(r"Iron Causeway: count-in 4, 200 bpm \(119%\)")
        program.expect(r"Iron Causeway: bar 2 of 2, count 3, 200 bpm \(119%\), pass 1")
        program.expect(r"bar 1 of 2, count 1, 200 bpm \(119%\), pass 2")
        begun = time.monotonic()
        program.sendintr()
        program.expect(pexpect.EOF)
        # 100 ms is the aim (measured: 40 to 60); a busy test machine gets room.
        assert time.monotonic() - begun < 1.0
    program.close()
    assert program.exitstatus == 0
    assert "Traceback" not in program.before
    sound = np.fromfile(recording, np.float32)
    assert np.abs(sound).max() > 0.02


@pytest.mark.usefixtures("_in_work")
def test_a_given_number_of_passes_ends_by_itself(pulse: Pulse) -> None:
    program = _terminal("--riff", "Signal fires", "--tempo", "210", "--count-in", "0", "--passes", "2")
    program.expect("pass 2 of 2")
    program.expect(pexpect.EOF)
    program.close()
    assert program.exitstatus == 0


@pytest.mark.usefixtures("_in_work")
def test_nothing_of_the_sound_libraries_reaches_the_terminal(pulse: Pulse) -> None:
    words = [sys.executable, *PLAY, "--riff", "Signal fires", "--tempo", "210", "--count-in", "0", "--passes", "1"]
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (0, "Iron Causeway: playing\n", "")


@pytest.mark.usefixtures("_in_work", "jack")
def test_a_virtual_port_gets_every_note_its_end_and_the_clock() -> None:
    words = [sys.executable, *PLAY, "--riff", "Low road", "--tempo", "150", "--only", "guitar 1", "--click", "none"]
    program = subprocess.Popen(
        [*words, "--count-in", "1", "--passes", "1", "--out", "virtual", "--clock"], stdout=subprocess.DEVNULL
    )
    listener = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="listener", queue_size_limit=10_000)
    listener.ignore_types(timing=False)
    received: list[list[int]] = []
    try:
        wait_until(lambda: any("Twinspur" in name for name in listener.get_ports()), "the port")
        listener.open_port(next(i for i, name in enumerate(listener.get_ports()) if "Twinspur" in name))

        def ended() -> bool:
            while (found := listener.get_message()) is not None:
                received.append(found[0])
            return program.poll() is not None

        wait_until(ended, "the pass to end")
        ended()
    finally:
        program.kill()
        program.wait()
        listener.close_port()
        listener.delete()
    on = [message for message in received if message[0] == 0x90 and message[2]]
    off = [message for message in received if message[0] == 0x80 or (message[0] == 0x90 and not message[2])]
    assert len(on) == 22
    assert {message[1] for message in on} <= {message[1] for message in off}
    # The clock runs through the two bars of the pass, 24 ticks to each of their eight quarters.
    assert received.count([0xF8]) >= 8 * 24 - 2
    assert [0xFA] in received
    assert [0xFC] in received


@pytest.mark.usefixtures("_in_work", "jack")
def test_a_port_that_is_not_there_is_told(tmp_path: Path) -> None:
    words = [sys.executable, *PLAY, "--out", "port:Nowhere"]
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=60, env=dict(os.environ))
    assert done.returncode == 3
    assert "There is no MIDI output called 'Nowhere'" in done.stderr
    assert "Traceback" not in done.stderr
