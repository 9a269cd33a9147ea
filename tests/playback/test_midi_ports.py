"""Ports and MIDI coming in, on a real JACK server."""

import sys

import pytest

from tests.playback.conftest import let_jack_die
from tests.sound_servers import wait_until
from trainer.playback.fluid import LibraryMissingError
from trainer.playback.midi_ports import midi_inputs, midi_outputs, midi_systems, open_input, open_output
from trainer.playback.midi_source import DriverClock, MidiSource, SourceGoneError
from trainer.playback.port_names import PortError


def test_ports_are_listed_by_name_with_their_system(jack):
    pedal, _ = open_output("pedal", "jack", virtual=True)
    synth, _ = open_input("outside synth", "jack", virtual=True)
    assert [(port.system, port.name) for port in midi_inputs("jack")] == [("jack", "pedal:out")]
    assert [(port.system, port.name) for port in midi_outputs("jack")] == [("jack", "outside synth:in")]
    pedal.delete()
    synth.delete()
    assert midi_inputs("jack") == ()


def test_a_port_that_is_not_there_is_told_with_those_that_are(jack):
    synth, _ = open_input("outside synth", "jack", virtual=True)
    with pytest.raises(PortError, match=r"no MIDI output called 'outside sinth'.* Did you mean 'outside synth:in'"):
        open_output("outside sinth")
    synth.delete()


def test_without_a_midi_system_it_says_so(monkeypatch):
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nobody")
    with pytest.raises(PortError, match="MIDI is not available here"):
        open_output("anything", "jack")
    assert midi_outputs("jack") == ()


def test_an_unknown_system_is_answered_with_the_known_ones():
    with pytest.raises(PortError, match=f"no MIDI system 'telegraph' here. Choose one of: {', '.join(midi_systems())}"):
        midi_outputs("telegraph")


def test_a_missing_library_is_told_with_what_to_do(monkeypatch):
    monkeypatch.setitem(sys.modules, "rtmidi", None)
    with pytest.raises(LibraryMissingError, match=r"MIDI needs RtMidi, which cannot be loaded .*nstall"):
        midi_outputs()


def test_what_is_played_comes_in_with_its_times(jack):
    pedal, _ = open_output("pedal", "jack", virtual=True)
    source = MidiSource("pedal")
    taken = []

    def more() -> int:
        taken.extend(source.take())
        return len(taken)

    for number in range(40):
        pedal.send_message((0x90, number, 100))
        wait_until(lambda: more() > number, "the note")  # noqa: B023  # called within the turn
    assert [received.message for received in taken] == [(0x90, number, 100) for number in range(40)]
    times = [received.seconds for received in taken]
    assert times == sorted(times)
    source.close()
    source.close()
    pedal.delete()


def test_an_input_that_goes_is_told(jack):
    pedal, _ = open_output("pedal", "jack", virtual=True)
    source = MidiSource("pedal")
    assert source.take() == []
    pedal.delete()

    def told() -> bool:
        try:
            source.take()
        except SourceGoneError as gone:
            return "The MIDI input 'pedal:out' is no longer there" in str(gone)
        return False

    wait_until(told, "the loss to be told", 2)
    source.close()
    with pytest.raises(SourceGoneError, match="closed"):
        source.check()


def test_an_input_whose_server_dies_is_told_and_nothing_hangs(tmp_path):
    told, closed = let_jack_die("source", tmp_path)
    assert "The MIDI input 'Twinspur in' is no longer there" in told
    assert float(told.split()[0]) < 2
    assert float(closed) < 2


def test_a_program_that_sees_messages_late_still_tells_when_they_came():
    """Every third message is seen 30 ms late; the driver's own times put it right."""
    clock, told = DriverClock(), []
    for number in range(30):
        came = 100 + number * 0.1
        seen = came + (0.03 if number % 3 == 2 else 0.001)
        told.append(clock.seconds(seen, 0.1 if number else 0.0) - came)
    assert max(told) - min(told) < 1e-9
    assert abs(told[0]) <= 0.001001


def test_a_driver_whose_clock_is_slow_does_not_lead_away():
    clock = DriverClock()
    late = [clock.seconds(number * 0.5, 0.49995 if number else 0.0) - number * 0.5 for number in range(20_000)]
    assert max(abs(one) for one in late) < 0.002
