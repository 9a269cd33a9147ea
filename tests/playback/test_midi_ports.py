"""Ports and MIDI coming in, on a real JACK server."""

import sys
import threading

import pytest

from tests.playback.conftest import let_jack_die
from tests.sound_servers import wait_until
from trainer.playback import midi_source
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


def test_an_input_is_closed_while_notes_come_in(jack):
    """Closing a client that called back into Python stood still, or ended the program, in one of two turns."""
    pedal, _ = open_output("pedal", "jack", virtual=True)
    playing = threading.Event()

    def play() -> None:
        while not playing.wait(0.001):
            for number in range(20):
                pedal.send_message((0x90, number, 100))

    player = threading.Thread(target=play)
    player.start()
    try:
        for _ in range(3):
            source = MidiSource("pedal")
            wait_until(source.take, "notes")
            source.close()
    finally:
        playing.set()
        player.join()
        pedal.delete()


def test_a_process_that_listens_and_is_lost_is_started_again_once(jack):
    """At once a second time it is not: then something is wrong that another start would not mend."""
    pedal, _ = open_output("pedal", "jack", virtual=True)
    source = MidiSource("pedal")
    source._started -= midi_source.AGAIN
    source._process.kill()
    source._process.wait()

    def heard_again() -> bool:
        pedal.send_message((0x90, 60, 100))
        return [each.message for each in source.take()][:1] == [(0x90, 60, 100)]

    wait_until(heard_again, "a note after the loss")
    assert source.restarts == 1
    source._process.kill()
    source._process.wait()
    with pytest.raises(SourceGoneError, match="process that listens to the MIDI input 'pedal:out' has ended"):
        for _ in range(1000):
            source.take()
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

    wait_until(told, "the loss to be told")
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
