import pytest

from trainer.playback.port_names import PortError, choose_port, lasting_name, no_such_port

PORTS = ["Midi Through:Midi Through Port-0 14:0", "Amp Room:Amp Room MIDI 1 20:0", "Amp Room:Amp Room MIDI 2 20:1"]


@pytest.mark.parametrize("wanted", [PORTS[1], "Amp Room:Amp Room MIDI 1", "midi 1", "Amp Room:Amp Room MIDI 1 28:0"])
def test_a_port_is_found_by_its_name_or_a_part_whatever_its_number(wanted):
    assert choose_port(PORTS, wanted) == 1


def test_the_whole_name_wins_over_a_longer_one():
    assert choose_port(["loop", "loop 2"], "loop") == 0


def test_a_part_that_fits_twice_is_asked_back():
    with pytest.raises(
        PortError, match=r"Several MIDI ports are called 'amp room': .*MIDI 1.*MIDI 2.* more of the name"
    ):
        choose_port(PORTS, "amp room")


@pytest.mark.parametrize("wanted", ["", "Bass Station", "14:0x"])
def test_what_no_port_is_called_is_not_found(wanted):
    assert choose_port(PORTS, wanted) is None


def test_a_name_loses_only_the_numbers_at_its_end():
    assert lasting_name("Unit 2:0 x 20:1") == "Unit 2:0 x"


def test_a_slip_is_answered_with_the_nearest_name():
    told = str(no_such_port(["Amp Room", "Drum Box"], "Amp Rome", "output"))
    assert "Did you mean 'Amp Room'?" in told
    assert "'Drum Box'" in told


def test_without_any_port_it_says_so():
    assert "no MIDI input is connected at all" in str(no_such_port([], "pedal", "input"))
