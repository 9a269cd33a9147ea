"""Which drivers there are, on the real library."""

import socket
from pathlib import Path

import pytest

from trainer.playback.audio_out import Device, open_audio
from trainer.playback.drivers import (
    AUTOMATIC,
    DEFAULTS,
    Buffering,
    NoSoundError,
    audio_drivers,
    buffering,
    jack_server,
    pipewire_runs,
    to_try,
)
from trainer.playback.fluid import BLOCK, SynthError
from trainer.playback.synth_options import SynthOptions


def test_a_file_is_no_device_and_the_best_driver_comes_first():
    offered = audio_drivers()
    assert offered
    assert "file" not in offered
    known = [name for name in offered if name in DEFAULTS]
    assert known == sorted(known, key=list(DEFAULTS).index)


def test_drivers_that_need_more_than_a_name_are_tried_only_when_asked_for():
    assert "sdl2" not in to_try(AUTOMATIC)
    assert set(to_try(AUTOMATIC)) <= set(audio_drivers())


def test_every_driver_offered_has_a_sane_buffering():
    for driver in audio_drivers():
        chosen = buffering(driver)
        assert 64 <= chosen.period <= 2048
        assert chosen.frames <= 4096


def test_on_pulseaudio_a_change_of_tempo_is_heard_within_60_ms():
    """A call just before the clock moves on waits a period, then for the earliest frame, then for the device."""
    usual = buffering("pulseaudio")
    assert usual.period + (usual.period + BLOCK) + usual.frames <= 0.060 * 48000


def test_a_players_choice_replaces_the_usual():
    assert buffering("pulseaudio", period=2048) == Buffering(2048, DEFAULTS["pulseaudio"].periods)
    assert buffering("alsa", periods=3) == Buffering(DEFAULTS["alsa"].period, 3)


def test_the_jack_servers_rate_and_period_are_asked(jack):
    assert jack_server() == (48000, 256)


def test_without_a_jack_server_there_is_nothing_to_ask(monkeypatch):
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nobody")
    assert jack_server() is None


def test_a_device_that_is_not_there_is_told_by_its_name(tiny_bank):
    with pytest.raises(NoSoundError, match=r"for the device 'Amp Room' \(tried: alsa\)"):
        open_audio(tiny_bank, SynthOptions(), Device("alsa", "Amp Room"))


@pytest.mark.parametrize("period", [1, 100_000])
def test_a_period_that_no_driver_takes_is_told(pulse, tiny_bank, period):
    with pytest.raises(SynthError, match=r"does not take .* audio.period-size"):
        open_audio(tiny_bank, SynthOptions(), Device("pulseaudio", period=period))


def test_pipewire_is_tried_only_where_its_socket_is(tmp_path: Path) -> None:
    assert not pipewire_runs({"XDG_RUNTIME_DIR": str(tmp_path)})
    (tmp_path / "pipewire-0").touch()
    assert not pipewire_runs({"XDG_RUNTIME_DIR": str(tmp_path)})
    with socket.socket(socket.AF_UNIX) as daemon:
        daemon.bind(str(tmp_path / "mine"))
        assert pipewire_runs({"PIPEWIRE_RUNTIME_DIR": str(tmp_path), "PIPEWIRE_REMOTE": "mine"})
        assert not pipewire_runs({"PIPEWIRE_RUNTIME_DIR": str(tmp_path)})
