"""The live sink on a real PulseAudio server's null sink, and on a real JACK server."""

import signal
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest

from tests.click_train import LAYOUT, play_click_train, read_recording
from tests.onsets import click_onsets, measure
from tests.playback.tiny_bank import CLICK, KEY, TONE, TONE_PERIOD
from tests.sound_servers import Pulse, wait_until
from trainer.playback.audio_out import Device
from trainer.playback.drivers import NoSoundError
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK, SynthError
from trainer.playback.sink import SinkGoneError
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_sink import ClickKeys, SynthSink

DRY = SynthOptions(reverb=False, chorus=False)
PULSE = Device("pulseaudio")


def _open(bank: Path) -> SynthSink:
    opened = SynthSink(bank, PULSE, DRY, ClickKeys(KEY, KEY))
    opened.prepare(LAYOUT, [Event(0, Kind.PROGRAM, 0, CLICK, 0), Event(0, Kind.PROGRAM, 1, TONE, 0)])
    return opened


@pytest.fixture
def sink(pulse: Pulse, tiny_bank: Path):
    opened = _open(tiny_bank)
    yield opened
    opened.close()


def _voices(sink: SynthSink) -> int:
    return sink._out.synth.voices()


def _pass(sink: SynthSink, frames: int) -> None:
    end = sink.now() + frames
    wait_until(lambda: sink.now() >= end, "the device's clock")


def test_clicks_at_173_bpm_sound_within_a_block_between_the_servers_own_gaps(pulse, tiny_bank, tmp_path):
    recording = tmp_path / "recording"
    with pulse.recording(recording):
        sink = SynthSink(tiny_bank, PULSE, DRY)
        wanted = play_click_train(sink, bpm=173, clicks=16)
        sink.close()
    timing = measure(read_recording(recording), wanted, TONE_PERIOD)
    assert timing.gaps < 8, "the server drops out too often to measure anything"
    assert timing.worst <= BLOCK
    assert sink.late == 0


def test_the_driver_is_found_by_trying(pulse, tiny_bank):
    sink = SynthSink(tiny_bank, Device(), DRY)
    assert sink.driver == "pulseaudio"
    sink.close()


def test_what_is_withdrawn_never_sounds(sink):
    start = sink.now() + sink.rate // 4
    sink.send([Event(start + n * 4800, Kind.NOTE_ON, 1, KEY + n, 100) for n in range(10)])
    sink.withdraw()
    _pass(sink, sink.rate // 2)
    assert _voices(sink) == 0


def test_withdrawing_leaves_what_sounds(sink):
    sink.send([Event(0, Kind.NOTE_ON, 1, KEY, 100)])
    wait_until(lambda: _voices(sink) == 1, "the note")
    sink.withdraw()
    _pass(sink, sink.rate // 10)
    assert _voices(sink) == 1


def test_silence_ends_every_note_within_a_tenth_of_a_second(sink):
    sink.send([Event(0, Kind.NOTE_ON, 1, KEY + n, 100) for n in range(12)])
    wait_until(lambda: _voices(sink) == 12, "the notes")
    sink.silence()
    wait_until(lambda: _voices(sink) == 0, "silence", 0.1)


def test_a_note_ends_even_when_start_and_end_fall_into_one_block(sink):
    start = (sink.now() // BLOCK + 200) * BLOCK
    events = [Event(start + n, Kind.NOTE_ON, 1, 40 + n, 100) for n in range(20)]
    events += [Event(start + n + 1, Kind.NOTE_OFF, 1, 40 + n, 0) for n in range(20)]
    sink.send(sorted(events))
    _pass(sink, sink.rate // 2)
    assert _voices(sink) == 0


def test_a_click_is_released_though_nobody_sends_its_end(sink):
    sink.prepare(LAYOUT, [Event(0, Kind.PROGRAM, 0, TONE, 0)])  # a click that would sound for ever
    sink.send([Event(sink.now() + 4800, Kind.CLICK, 0, 1, 100)])
    wait_until(lambda: _voices(sink) == 1, "the click")
    _pass(sink, sink.rate // 4)
    sink.send([])
    _pass(sink, sink.rate // 10)
    assert _voices(sink) == 0


def test_late_events_are_carried_out_at_once_and_counted(sink):
    _pass(sink, 4800)
    sink.send([Event(0, Kind.NOTE_ON, 1, KEY, 100)])
    wait_until(lambda: _voices(sink) == 1, "the note")
    assert sink.late == 1


def test_events_given_min_ahead_are_on_time(pulse, tiny_bank, tmp_path):
    recording = tmp_path / "recording"
    with pulse.recording(recording):
        sink = SynthSink(tiny_bank, PULSE, DRY)
        wanted = play_click_train(sink, bpm=300, clicks=10, ahead=(sink.min_ahead + 960) / sink.rate)
        sink.close()
    timing = measure(read_recording(recording), wanted, TONE_PERIOD)
    assert timing.worst <= BLOCK


def test_the_clock_never_goes_back_and_keeps_the_devices_rate(sink):
    begin, first = time.monotonic(), sink.now()
    last = first
    while time.monotonic() < begin + 1:
        now = sink.now()
        assert now >= last
        last = now
    gone = (time.monotonic() - begin) * sink.rate
    assert 0.8 * gone < last - first < 1.2 * gone


def test_a_server_that_dies_is_told_and_nothing_hangs(own_pulse, tiny_bank):
    sink = _open(tiny_bank)
    own_pulse.process.send_signal(signal.SIGKILL)
    begin = time.monotonic()
    with pytest.raises(SinkGoneError, match=r"no longer takes any sound \(driver pulseaudio\)"):
        while time.monotonic() < begin + 6:
            sink.now()
            time.sleep(0.02)
    sink.silence()
    sink.close()
    assert time.monotonic() - begin < 6


def test_a_server_that_hangs_holds_up_neither_playing_nor_closing(own_pulse, tiny_bank):
    sink = _open(tiny_bank)
    own_pulse.process.send_signal(signal.SIGSTOP)
    try:
        begin = time.monotonic()
        with pytest.raises(SinkGoneError, match="no longer takes any sound"):
            while time.monotonic() < begin + 6:
                sink.now()
                time.sleep(0.02)
        sink.silence()
        sink.close()
        assert time.monotonic() - begin < 6
    finally:
        own_pulse.process.send_signal(signal.SIGCONT)


def test_a_closed_sink_says_so(sink):
    sink.close()
    sink.close()
    sink.silence()
    with pytest.raises(SinkGoneError, match="The sound was closed"):
        sink.now()


def test_without_a_device_it_says_so_at_once(tiny_bank, monkeypatch):
    monkeypatch.setenv("PULSE_SERVER", "unix:/nonexistent")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nobody")
    begin = time.monotonic()
    with pytest.raises(NoSoundError, match=r"No sound device could be opened \(tried: .*render to a file instead"):
        SynthSink(tiny_bank)
    assert time.monotonic() - begin < 3


def test_a_bank_that_cannot_be_read_is_told_and_the_device_released(pulse, tmp_path):
    damaged = tmp_path / "damaged.sf2"
    damaged.write_bytes(b"RIFF")
    with pytest.raises(SynthError, match=r"cannot read .*damaged\.sf2 as a sound bank"):
        SynthSink(damaged, PULSE, DRY)
    command = ["pactl", "list", "short", "sink-inputs"]
    wait_until(
        lambda: not subprocess.run(command, env=pulse.environment, capture_output=True, check=True).stdout,
        "the server to know that the device was released",
    )


def test_a_driver_that_does_not_exist_is_answered_with_those_that_do(tiny_bank):
    with pytest.raises(NoSoundError, match=r"There is no audio driver 'trumpet' here. Choose one of: .*auto"):
        SynthSink(tiny_bank, Device("trumpet"))


def test_it_plays_at_the_rate_of_a_jack_server(jack, tiny_bank):
    sink = SynthSink(tiny_bank, Device("jack"), SynthOptions(rate=44100))
    assert (sink.driver, sink.rate, sink.period) == ("jack", 48000, 256)
    rates = [_rate(sink, 4800) for _ in range(10)]
    sink.close()
    nearest = min(rates, key=lambda rate: abs(rate - 48000))  # where the machine stands still, a rate is too low
    assert nearest == pytest.approx(48000, rel=0.05)


def _rate(sink: SynthSink, frames: int) -> float:
    """Frames that pass in a second of the machine's clock, measured over about `frames`."""
    begin, first = time.monotonic(), sink.now()
    _pass(sink, frames)
    return (sink.now() - first) / (time.monotonic() - begin)


def test_two_hundred_and_fifty_six_channels_sound(sink):
    sink.prepare(LAYOUT, [Event(0, Kind.PROGRAM, channel, TONE, 0) for channel in range(256)])
    sink.send([Event(0, Kind.NOTE_ON, channel, KEY, 20) for channel in range(0, 256, 5)])
    wait_until(lambda: _voices(sink) == 52, "a note on every fifth channel")


def test_onset_finder_sees_a_shifted_click():
    left = np.zeros(48000, dtype=np.float32)
    left[[1000, 20000, 40005]] = 1
    assert click_onsets(left, 9000).tolist() == [1000, 20000, 40005]


def _hand_over_and_take_back(sink: SynthSink, wanted: list[int]) -> int:
    """Send clicks some way ahead, and again and again take back what the sink can still drop; how often."""
    sent = taken = 0
    while (now := sink.now()) < wanted[-1] + sink.rate // 4:
        ahead = [frame for frame in wanted[sent:] if frame < now + sink.rate // 4]
        sink.send([Event(frame, Kind.CLICK, 0, 0, 127) for frame in ahead])
        sent += len(ahead)
        cut = sink.now() + 4 * sink.min_ahead  # far enough for this thread to be held up
        sink.withdraw_from(cut)
        sent, taken = sum(frame < cut for frame in wanted[:sent]), taken + 1
        time.sleep(0.003)
    return taken


def test_what_is_due_before_a_cut_is_neither_lost_nor_doubled_nor_late(pulse, tiny_bank, tmp_path):
    recording = tmp_path / "recording"
    with pulse.recording(recording):
        sink = _open(tiny_bank)
        start = sink.now() + sink.rate // 2
        sink.send([Event(start - sink.rate // 4, Kind.NOTE_ON, 1, KEY, 127)])
        wanted = [start + n * 1531 for n in range(60)]
        taken = _hand_over_and_take_back(sink, wanted)
        sink.silence()
        sink.close()
    timing = measure(read_recording(recording), np.array(wanted), TONE_PERIOD)
    assert taken > 60
    assert sink.late == 0
    steps = np.abs(np.diff(np.concatenate(timing.deviations)))
    assert np.quantile(steps, 0.9) <= BLOCK  # but for the server's own gaps


def test_a_cut_leaves_what_is_due_before_it_on_a_jack_server(jack, tiny_bank):
    sink = SynthSink(tiny_bank, Device("jack"), DRY)
    sink.prepare(LAYOUT, [Event(0, Kind.PROGRAM, channel, TONE, 0) for channel in (0, 1)])
    start = sink.now() + sink.rate // 4
    sink.send([Event(start + n * 480, Kind.NOTE_ON, 1, 40 + n, 20) for n in range(40)])
    sink.withdraw_from(start + 25 * 480)
    sink.send([Event(start + 25 * 480, Kind.NOTE_ON, 0, KEY, 20)])
    _pass(sink, sink.rate)
    assert _voices(sink) == 26
    sink.close()


def test_a_click_that_was_taken_back_is_not_released(sink):
    """Its key may by then belong to another click that goes on."""
    sink.prepare(LAYOUT, [Event(0, Kind.PROGRAM, 0, TONE, 0)])
    sink.send([Event(sink.now() + sink.rate // 2, Kind.CLICK, 0, 1, 100)])
    sink.withdraw_from(sink.now() + sink.min_ahead)
    sink.send([Event(sink.now() + sink.rate // 10, Kind.NOTE_ON, 0, KEY, 100)])
    _pass(sink, sink.rate)
    sink.send([])
    _pass(sink, sink.rate // 10)
    assert _voices(sink) == 1
