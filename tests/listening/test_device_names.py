"""What the sound server's default really is, told by PulseAudio itself."""

import subprocess

import pytest

from tests.sound_servers import Pulse
from trainer.listening.devices import DeviceName, described, driven_device, real_device


def test_a_device_of_its_own_name_is_itself() -> None:
    assert real_device("Scarlet USB: Audio (hw:1,0)", "input") == DeviceName("Scarlet USB: Audio (hw:1,0)")
    assert driven_device("jack") == DeviceName("jack")


def test_the_servers_default_is_called_by_its_own_name(pulse: Pulse, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PULSE_SINK", raising=False)
    monkeypatch.setenv("PULSE_SERVER", pulse.server)
    assert real_device("pulse", "output") == DeviceName("null", "Null Output", "")
    assert real_device("", "input").name == "null.monitor"
    assert driven_device("pulseaudio").name == "null"
    monkeypatch.setenv("PULSE_SINK", "another")
    assert real_device("default", "output").name == "another"


def test_a_default_that_is_connected_by_bluetooth_is_known_by_its_bus(
    own_pulse: Pulse, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PULSE_SERVER", own_pulse.server)
    for words in (
        ["load-module", "module-null-sink", "sink_name=cans", "sink_properties=device.bus=bluetooth"],
        ["set-default-sink", "cans"],
    ):
        subprocess.run(["pactl", *words], check=True, env=own_pulse.environment, stdout=subprocess.DEVNULL)
    assert not real_device("", "input").wireless or real_device("", "input").name == "cans.monitor"
    found = real_device("pulse", "output")
    assert (found.name, found.bus, found.wireless) == ("cans", "bluetooth", True)


def test_bluetooth_is_known_by_the_interface_and_by_words_too() -> None:
    listing = (
        'Sink #3\n\tName: out.3\n\tDescription: Cans\n\tProperties:\n\t\tdevice.api = "bluez5"\n\nSink #4\n\tName: usb'
    )
    assert described(listing, "out.3").wireless
    assert not described(listing, "usb").wireless
    assert DeviceName("out.5", "Somebody's Wireless Cans").wireless
    assert described("", "gone") == DeviceName("gone")


def test_without_a_server_nothing_is_made_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PULSE_SERVER", "unix:/nowhere")
    monkeypatch.delenv("PULSE_SINK", raising=False)
    assert real_device("", "output") == DeviceName("default")
    assert driven_device("alsa") == DeviceName("alsa")
    monkeypatch.setenv("PATH", "")
    assert real_device("pulse", "output") == DeviceName("pulse")
