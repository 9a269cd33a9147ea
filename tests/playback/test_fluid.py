"""The thin layer over libfluidsynth, on the real library."""

import subprocess
import sys

import numpy as np
import pytest

from tests.playback.tiny_bank import CLICK, KEY, TONE
from trainer.playback.block_clock import TICKS_A_SECOND, BlockClock, TickOrder
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK, FluidSettings, Sequencer, Synth, SynthError, version
from trainer.playback.gesture import RANGE, wheel
from trainer.playback.synth_options import SynthOptions

DRY = SynthOptions(reverb=False, chorus=False, gain=1.0)


@pytest.fixture
def synth(tiny_bank):
    made = DRY.make(tiny_bank)
    made.program(0, 0, CLICK)
    made.program(1, 0, TONE)
    yield made
    made.close()


def test_settings_are_read_as_they_were_set():
    settings = FluidSettings(synth__sample_rate=44100.0, synth__midi_channels=64)
    settings.set("audio.driver", "file")
    assert settings.number("synth.sample-rate") == 44100
    assert settings.whole("synth.midi-channels") == 64
    assert settings.text("audio.driver") == "file"
    assert "file" in settings.options("audio.driver")
    settings.close()


@pytest.mark.parametrize(("name", "value"), [("synth.gain", 11.0), ("synth.trumpet", 1), ("synth.polyphony", 0)])
def test_a_setting_that_does_not_exist_or_fit_is_refused(name, value, tiny_bank):
    synth = SynthOptions().make(tiny_bank)
    with pytest.raises(SynthError, match=f"does not take .* for its setting {name}"):
        synth.settings.set(name, value)
    synth.close()


def test_the_library_tells_its_version():
    assert int(version().split(".")[0]) >= 2


@pytest.mark.parametrize("content", [b"", b"RIFF", b"RIFF\x10\0\0\0sfbkLIST", b"\0" * 4096])
def test_a_damaged_bank_is_refused_in_a_sentence(content, tmp_path):
    path = tmp_path / "damaged.sf2"
    path.write_bytes(content)
    with pytest.raises(SynthError, match=r"cannot read .*damaged\.sf2 as a sound bank"):
        SynthOptions().make(path)


@pytest.mark.parametrize("kept", [0.2, 0.5, 0.9, 0.99])
def test_a_truncated_bank_is_refused(kept, tiny_bank, tmp_path):
    whole = tiny_bank.read_bytes()
    path = tmp_path / "truncated.sf2"
    path.write_bytes(whole[: int(len(whole) * kept)])
    with pytest.raises(SynthError, match="cannot read"):
        SynthOptions().make(path)


def test_float_output_is_not_clipped(synth):
    for _ in range(6):
        synth.note_on(1, KEY, 127)
    synth.gain(10.0)
    assert np.abs(synth.render(4800)).max() > 1.5


def _bend_range(synth):
    for controller, value in ((101, 0), (100, 0), (6, RANGE), (38, 0)):  # registered parameter 0,0
        synth.control(1, controller, value)


def _cents(synth, key):
    synth.note_on(1, key, 127)
    right = synth.render(48000)[4800:, 1].astype(float)
    synth.sounds_off()
    synth.render(640)
    before = np.nonzero((right[:-1] < 0) & (right[1:] >= 0))[0]
    crossings = before - right[before] / (right[before + 1] - right[before])
    return 1200 * np.log2(48000 / np.diff(crossings).mean() / 375)


@pytest.mark.parametrize("semitones", [-0.3, 0.3, *(way * whole for whole in range(1, 13) for way in (-1, 1))])
def test_a_bend_lands_within_two_cents_of_the_written_pitch(semitones, synth):
    _bend_range(synth)
    synth.bend(1, wheel(semitones))
    assert _cents(synth, KEY) == pytest.approx(100 * semitones, abs=2)


def test_a_queued_bend_lands_there_too(synth):
    sequencer = Sequencer(synth)
    _bend_range(synth)
    sequencer.send(0, Event(0, Kind.BEND, 1, wheel(3), 0))
    synth.render(640)
    assert _cents(synth, KEY) == pytest.approx(300, abs=1)
    sequencer.close()


def test_every_kind_of_event_takes_effect_from_the_queue(synth):
    sequencer = Sequencer(synth)
    for tick, event in enumerate(
        [
            Event(0, Kind.PROGRAM, 5, TONE, 0),
            Event(0, Kind.CONTROL, 5, 7, 127),
            Event(0, Kind.BEND, 5, 8192, 0),
            Event(0, Kind.NOTE_ON, 5, KEY, 127),
        ]
    ):
        sequencer.send(tick, event)
    assert np.abs(synth.render(9600)[4800:, 1]).max() > 0.1
    sequencer.send(200, Event(0, Kind.CONTROL, 5, 7, 0))
    synth.render(9600)
    assert np.abs(synth.render(4800)).max() < 1e-4
    sequencer.send(0, Event(0, Kind.NOTE_OFF, 5, KEY, 0))
    synth.render(9600)
    assert synth.voices() == 0
    sequencer.close()


def test_withdrawn_events_are_gone(synth):
    sequencer = Sequencer(synth)
    for tick in range(100):
        sequencer.send(tick, Event(0, Kind.NOTE_ON, 0, KEY, 127))
    sequencer.withdraw()
    assert np.abs(synth.render(48000)).max() == 0
    sequencer.close()


def test_each_onset_falls_on_the_nearest_block_over_a_minute(synth):
    """Every frame of a block is asked for; the plain time in ticks would be up to a block and a half late."""
    sequencer = Sequencer(synth, TICKS_A_SECOND)
    order = TickOrder(BlockClock(48000))
    wanted = [4800 + n * 9601 for n in range(300)]
    for frame in wanted:
        event = Event(frame, Kind.NOTE_ON, 0, KEY, 127)
        sequencer.send(order.tick(event), event)
    left = synth.render(300 * 9601 + 9600)[:, 0]
    loud = np.nonzero(np.abs(left) > 0.1 * np.abs(left).max())[0]
    onsets = loud[np.concatenate([[True], np.diff(loud) > 4000])]
    assert len(onsets) == len(wanted)
    late = (onsets - np.array(wanted))[1:]  # the very first voice of a synth rises a little later
    assert late.max() - late.min() < BLOCK
    sequencer.close()


def test_a_missing_library_is_told_with_how_to_install_it():
    """In a process of its own, whose search for the library finds nothing."""
    program = (
        "import ctypes.util, os; os.environ.pop('HOMEBREW_PREFIX', None)\n"
        "ctypes.util.find_library = lambda name: None\n"
        "from trainer.playback import fluid\n"
        "try: fluid.FluidSettings()\n"
        "except fluid.LibraryMissingError as error: print(error)"
    )
    told = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert "libfluidsynth was not found" in told
    assert "install" in told


def test_importing_the_wrapper_loads_neither_library_nor_numpy():
    program = "import sys; import trainer.playback.fluid; print('fluidsynth' in sys.modules, 'numpy' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert told.split() == ["False", "False"]


def test_a_synth_needs_settings_it_can_use():
    settings = FluidSettings()
    synth = Synth(settings)
    synth.close()
    synth.close()
    assert settings.pointer is None
