"""Nothing that the sound libraries print reaches the terminal: seen from outside, in a process of its own."""

import os
import subprocess
import sys

from trainer.playback import sound_log

_EVERYTHING_THAT_COMPLAINS = """
from pathlib import Path
from trainer.playback import fluid, midi_ports
from trainer.playback.audio_out import Device, open_audio
from trainer.playback.drivers import NoSoundError, audio_drivers
from trainer.playback.port_names import PortError
from trainer.playback.synth_options import SynthOptions
bank = Path({bank!r})
for driver in audio_drivers():
    try: open_audio(bank, SynthOptions(), Device(driver))
    except NoSoundError: pass
try: SynthOptions().make(Path({damaged!r}))
except fluid.SynthError: pass
synth = SynthOptions().make(bank)
synth.program(0, 7, 99)
midi_ports.midi_outputs()
midi_ports.midi_inputs()
try: midi_ports.open_output("nobody")
except PortError: pass
"""


def test_not_a_line_reaches_the_terminal(tiny_bank, tmp_path):
    damaged = tmp_path / "damaged.sf2"
    damaged.write_bytes(b"RIFF\x10\0\0\0sfbkLIST")
    environment = {
        **os.environ,
        "PULSE_SERVER": "unix:/nonexistent",
        "JACK_DEFAULT_SERVER": "nobody",
        "XDG_STATE_HOME": str(tmp_path),
    }
    program = _EVERYTHING_THAT_COMPLAINS.format(bank=str(tiny_bank), damaged=str(damaged))
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False, env=environment)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    log = (tmp_path / "twinspur" / "sound.log").read_text()
    assert "FluidSynth error" in log
    if sys.platform.startswith("linux"):
        assert "ALSA" in log
        kinds = [line.partition(" ")[2].partition(" ")[2] for line in log.splitlines()]
        assert len(kinds) == len(set(kinds))


def test_what_is_said_again_and_again_is_written_once_and_counted():
    sound_log.write_counts()
    sound_log.open_log().close()
    sound_log.log_file().write_bytes(b"")
    for number in range(300):
        sound_log.write_log("FluidSynth warning", f"No preset found on channel {number}")
        sound_log.write_log("ALSA", f"underrun at 0x{number:x}")
    sound_log.write_log("ALSA", "the device is gone")
    sound_log.write_counts()
    lines = [line.split(" ", 2)[2] for line in sound_log.log_file().read_text().splitlines()]
    assert lines == [
        "FluidSynth warning: No preset found on channel 0",
        "ALSA: underrun at 0x0",
        "ALSA: the device is gone",
        "FluidSynth warning: 299 more like this: No preset found on channel 0",
        "ALSA: 299 more like this: underrun at 0x0",
    ]


def test_a_log_line_is_one_plain_line():
    sound_log.open_log().close()
    sound_log.write_log("FluidSynth error", "bank \x1b[31mred\x1b[0m\nand\tmore\r")
    line = sound_log.log_file().read_text()
    assert line.count("\n") == 1
    assert line.rstrip("\n").isprintable()
    assert line.endswith("FluidSynth error: bank ?[31mred?[0m and more\n")


def test_a_large_log_makes_room_and_keeps_one_older():
    sound_log.open_log().close()
    sound_log.log_file().write_bytes(b"x" * 1_100_000)
    sound_log.open_log().close()
    assert sound_log.log_file().stat().st_size == 0
    assert sound_log.log_file().with_suffix(".log.1").stat().st_size == 1_100_000


def test_where_no_log_can_be_written_nothing_is_disturbed(tmp_path, monkeypatch):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(in_the_way))
    sound_log.write_log("FluidSynth", "lost")
    with sound_log.open_log() as log:
        log.write(b"lost too")
