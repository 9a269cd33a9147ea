"""The port sink and its process, on a real JACK server, heard by a real MIDI input."""

import itertools
import os
import signal
import subprocess
import sys
import textwrap
import time

import pytest

from tests.playback.conftest import let_jack_die
from tests.playback.midi_listener import Listener
from tests.sound_servers import jack_server, wait_until
from trainer.playback.channel_layout import Channel, ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.midi_source import MidiSource
from trainer.playback.port_names import PortError
from trainer.playback.port_sink import PortSink
from trainer.playback.sink import SinkGoneError

LAYOUT = ChannelLayout((Channel("guitar 1", 1, 2), Channel("guitar 1", 2, 2), Channel("click", None, 9)))
ON, OFF = Kind.NOTE_ON, Kind.NOTE_OFF


@pytest.fixture
def listener(jack):
    made = Listener()
    yield made
    made.close()


@pytest.fixture
def sink(listener):
    opened = PortSink("outside synth")
    try:
        opened.prepare(LAYOUT, [])
        wait_until(listener.silenced, "the reset")
        listener.messages.clear()
        yield opened
    finally:
        opened.close()


def test_notes_arrive_in_order_at_their_times_and_none_is_lost(sink, listener):
    start = sink.now() + 4800
    numbered = [Event(start + 240 * number, ON, 0, number % 128, 1 + number // 128) for number in range(300)]
    for first in range(0, 300, 50):
        sink.send(numbered[first : first + 50])
    wait_until(lambda: len(listener.notes()) == 300, "300 notes")
    assert [(key, velocity) for _, key, velocity in listener.notes()] == [(e.one, e.two) for e in numbered]
    assert listener.times[-1] - listener.times[-300] == pytest.approx(299 * 0.005, abs=0.1)


def test_a_batch_may_come_before_one_that_sounds_earlier(sink, listener):
    start = sink.now() + 9600
    sink.send([Event(start + 4800, ON, 0, 61, 100)])
    sink.send([Event(start, ON, 0, 60, 100)])
    wait_until(lambda: len(listener.notes()) == 2, "both notes")
    assert [key for _, key, _ in listener.notes()] == [60, 61]


def test_what_is_withdrawn_is_not_sent(sink, listener):
    start = sink.now() + 9600
    sink.send([Event(start, ON, 0, 60, 100)])
    sink.withdraw()
    sink.send([Event(start, ON, 0, 70, 100)])
    wait_until(listener.notes, "the other note")
    time.sleep(0.1)
    assert [key for _, key, _ in listener.notes()] == [70]


def test_a_cut_leaves_what_is_due_before_it_and_drops_the_rest(sink, listener):
    start = sink.now() + 9600
    sink.send([Event(start + 240 * number, ON, 0, number, 100) for number in range(60)])
    sink.send_raw([(start + 240 * 29, b"\xfa"), (start + 240 * 30, b"\xfc")])
    sink.withdraw_from(start + 240 * 30)
    sink.send([Event(start + 240 * 30, ON, 0, 100, 100)])
    wait_until(lambda: (0x92, 100, 100) in listener.messages, "the note after the cut")
    time.sleep(0.3)
    assert [key for _, key, _ in listener.notes()] == [*range(30), 100]
    assert (0xFA,) in listener.messages
    assert (0xFC,) not in listener.messages


def test_nothing_is_lost_doubled_or_late_while_cut_follows_cut(sink, listener):
    start = sink.now() + 9600
    wanted = [start + 480 * number for number in range(120)]
    sent = cuts = 0
    while (now := sink.now()) < wanted[-1] + 4800:
        ahead = [number for number in range(sent, 120) if wanted[number] < now + 12000]
        sink.send([Event(wanted[number], ON, 0, number, 100) for number in ahead])
        sent += len(ahead)
        cut = sink.now() + 10 * sink.min_ahead  # far enough for this thread and the process to be held up
        sink.withdraw_from(cut)
        sent, cuts = sum(frame < cut for frame in wanted[:sent]), cuts + 1
        time.sleep(0.003)
    wait_until(lambda: len(listener.notes()) >= 120, "120 notes")
    time.sleep(0.1)
    assert cuts > 60
    assert [key for _, key, _ in listener.notes()] == list(range(120))


def test_what_is_sent_at_once_is_not_withdrawn(sink, listener):
    os.kill(sink._link._process.pid, signal.SIGSTOP)  # so that it reads both in one go
    sink.prepare(LAYOUT, [Event(0, Kind.CONTROL, 0, 7, 99)])
    sink.withdraw()
    os.kill(sink._link._process.pid, signal.SIGCONT)
    wait_until(lambda: (0xB2, 7, 99) in listener.messages, "the level")


@pytest.mark.parametrize("take_back", [PortSink.withdraw, lambda sink: sink.withdraw_from(sink.now())])
def test_a_click_that_has_begun_ends_though_everything_is_withdrawn(take_back, sink, listener):
    sink.send([Event(0, Kind.CLICK, 2, 1, 100)])
    wait_until(listener.notes, "the click")
    take_back(sink)
    wait_until(lambda: len(listener.notes()) == 2, "its end")
    assert listener.notes()[1] == (0x89, 76, 64)


def test_the_first_messages_arrive_at_a_server_with_long_periods(tmp_path):
    """The port is said to be open only when it is connected: what is sent at once is not lost."""
    with jack_server(tmp_path, period=4096):
        listener = Listener()
        for key in range(40, 46):
            opened = PortSink("outside synth")
            opened.prepare(LAYOUT, [Event(0, ON, 0, key, 100)])
            wait_until(lambda: (0x92, key, 100) in listener.messages, "the first note")  # noqa: B023
            assert listener.silenced()
            listener.messages.clear()
            opened.close()
            wait_until(lambda: (0x82, key, 64) in listener.messages, "its end")  # noqa: B023
        listener.close()


def test_silence_ends_what_sounds_and_what_was_to_come_within_a_tenth_of_a_second(sink, listener):
    sink.send([Event(0, ON, 0, 60, 100), Event(sink.now() + 2400, ON, 0, 62, 100)])
    wait_until(listener.notes, "the note")
    sink.silence()
    wait_until(listener.silenced, "silence", 0.1)
    time.sleep(0.1)
    assert listener.notes() == [(0x92, 60, 100), (0x82, 60, 64)]


def test_strings_are_folded_to_their_parts_channel(sink, listener):
    sink.send([Event(0, ON, 0, 60, 100), Event(0, ON, 1, 60, 90)])
    sink.send([Event(0, OFF, 0, 60, 0)])
    sink.send([Event(0, ON, 1, 64, 80)])
    wait_until(lambda: len(listener.notes()) == 3, "three starts")
    assert listener.notes() == [(0x92, 60, 100), (0x92, 60, 90), (0x92, 64, 80)]


def test_a_click_is_a_wood_block_that_ends_by_itself(sink, listener):
    sink.send([Event(0, Kind.CLICK, 2, 1, 100), Event(0, Kind.CLICK, 2, 0, 80)])
    wait_until(lambda: len(listener.notes()) == 4, "two clicks")
    assert listener.notes() == [(0x99, 76, 100), (0x99, 77, 80), (0x89, 76, 64), (0x89, 77, 64)]


def test_midi_clock_and_song_position_are_sent_as_they_are(sink, listener):
    start = sink.now() + 4800
    sink.send_raw(
        [(start - 2400, b"\xf2\x10\x00"), (start, b"\xfa"), *((start + 1000 * tick, b"\xf8") for tick in range(24))]
    )
    sink.send([Event(start, ON, 0, 60, 100)])
    wait_until(lambda: len(listener.messages) == 27, "everything")
    assert listener.messages[:4] == [(0xF2, 0x10, 0), (0xFA,), (0xF8,), (0x92, 60, 100)]
    sink.send_raw([(sink.now(), b"\xfc")])
    wait_until(lambda: listener.messages[-1] == (0xFC,), "the stop")


def test_closing_ends_every_note(sink, listener):
    sink.send([Event(0, ON, 0, 60, 100)])
    wait_until(listener.notes, "the note")
    sink.close()
    wait_until(listener.silenced, "silence")
    assert (0x82, 60, 64) in listener.messages
    wait_until(lambda: listener.messages.count((0xBF, 120, 0)) == 3, "silence again, for a synth that missed it")
    with pytest.raises(SinkGoneError, match="closed"):
        sink.send([])
    sink.silence()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_to_the_process_ends_every_note(number, sink, listener):
    sink.send([Event(0, ON, 0, 60, 100)])
    wait_until(listener.notes, "the note")
    os.kill(sink._link._process.pid, number)
    wait_until(listener.silenced, "silence")
    assert (0x82, 60, 64) in listener.messages
    sink._link._process.wait(2)
    with pytest.raises(SinkGoneError, match="has ended"):
        sink.now()


def test_the_owners_death_ends_every_note(listener):
    program = """
        import time
        from trainer.playback.event import Event, Kind
        from trainer.playback.channel_layout import Channel, ChannelLayout
        from trainer.playback.port_sink import PortSink
        sink = PortSink("outside synth")
        sink.prepare(ChannelLayout((Channel("bass", 1, 3),)), [Event(0, Kind.NOTE_ON, 0, 60, 100)])
        sink.send([Event(sink.now() + 48000 * 60, Kind.NOTE_ON, 0, 61, 100)])
        time.sleep(60)
    """
    owner = subprocess.Popen([sys.executable, "-c", textwrap.dedent(program)])
    wait_until(listener.notes, "the note")
    listener.messages.clear()
    owner.kill()
    owner.wait()
    wait_until(listener.silenced, "silence")
    assert (0x83, 60, 64) in listener.messages


BENT, CENTRED = (0xE3, 0x7F, 0x7F), (0xE3, 0, 0x40)


def test_an_owner_that_is_put_to_sleep_leaves_no_note_and_no_bend(listener):
    program = """
        import sys, time
        from trainer.playback.channel_layout import Channel, ChannelLayout
        from trainer.playback.event import Event, Kind
        from trainer.playback.port_sink import PortSink
        sink = PortSink("outside synth")
        sink.prepare(ChannelLayout((Channel("bass", 1, 3),)), [Event(0, Kind.NOTE_ON, 0, 60, 100)])
        sink.send([Event(0, Kind.BEND, 0, 16383, 0)])
        while True:
            print(sink.now(), flush=True)
            time.sleep(0.02)
    """
    owner = subprocess.Popen([sys.executable, "-c", textwrap.dedent(program)], stdout=subprocess.PIPE, text=True)
    wait_until(lambda: BENT in listener.messages, "the bend")
    listener.messages.clear()
    owner.send_signal(signal.SIGSTOP)
    wait_until(lambda: listener.silenced() and CENTRED in listener.messages, "silence")
    assert (0x83, 60, 64) in listener.messages
    time.sleep(2.5)
    owner.send_signal(signal.SIGCONT)
    time.sleep(0.5)
    owner.kill()
    frames = [int(line) for line in owner.communicate()[0].split()]
    steps = [later - frame for frame, later in itertools.pairwise(frames)]
    assert max(steps) < 2 * 48_000  # what was slept is not counted
    assert frames[-1] > frames[0]


def test_a_process_that_is_killed_leaves_no_note_and_no_bend(sink, listener):
    sink.send([Event(0, ON, 0, 60, 100), Event(0, Kind.BEND, 0, 16383, 0)])
    wait_until(lambda: (0xE2, 0x7F, 0x7F) in listener.messages, "the bend")
    os.kill(sink._link._process.pid, signal.SIGKILL)
    sink._link._process.wait(2)
    with pytest.raises(SinkGoneError, match="has ended"):
        sink.now()
    wait_until(lambda: listener.silenced() and (0xE2, 0, 0x40) in listener.messages, "silence")


def test_closing_in_a_bend_centres_the_wheel(sink, listener):
    sink.send([Event(0, ON, 0, 60, 100), Event(0, Kind.BEND, 0, 16383, 0)])
    wait_until(lambda: (0xE2, 0x7F, 0x7F) in listener.messages, "the bend")
    sink.close()
    wait_until(lambda: (0xE2, 0, 0x40) in listener.messages, "the wheel at rest")


def test_a_stop_in_a_bend_centres_the_wheel_when_the_note_has_died_away(sink, listener):
    sink.send([Event(0, ON, 0, 60, 100), Event(0, Kind.BEND, 0, 16383, 0)])
    wait_until(lambda: (0xE2, 0x7F, 0x7F) in listener.messages, "the bend")
    time.sleep(1.2)
    assert (0xE2, 0, 0x40) not in listener.messages
    sink.send([Event(0, OFF, 0, 60, 0)])
    wait_until(lambda: (0xE2, 0, 0x40) in listener.messages, "the wheel at rest")


def test_a_port_that_disappears_is_told_and_nothing_hangs(jack):
    listener = Listener()
    sink = PortSink("outside synth")
    sink.prepare(LAYOUT, [Event(0, ON, 0, 60, 100)])
    wait_until(listener.notes, "the note")
    listener.close()
    begin = time.monotonic()
    with pytest.raises(SinkGoneError, match="The MIDI port 'outside synth:input' is no longer there"):
        while time.monotonic() < begin + 5:
            sink.send([Event(sink.now() + 480, ON, 0, 60, 100)])
            time.sleep(0.02)
    sink.silence()
    sink.close()
    assert time.monotonic() - begin < 5


def test_a_server_that_dies_is_told_and_nothing_hangs(tmp_path):
    told, closed = let_jack_die("sink", tmp_path)
    assert "The MIDI port 'outside synth:in' is no longer there" in told
    assert float(told.split()[0]) < 3
    assert float(closed) < 3


def test_a_process_that_hangs_is_told(sink):
    os.kill(sink._link._process.pid, signal.SIGSTOP)
    begin = time.monotonic()
    with pytest.raises(SinkGoneError, match="is stuck"):
        while time.monotonic() < begin + 8:
            sink.send([Event(sink.now() + 48000, ON, 0, 60, 100)])
            time.sleep(0.02)
    sink.close()
    assert time.monotonic() - begin < 8


def test_a_process_that_hangs_is_told_when_its_pipe_is_full(sink):
    os.kill(sink._link._process.pid, signal.SIGSTOP)
    with pytest.raises(SinkGoneError, match="takes no more messages"):
        for _ in range(10):
            sink.send([Event(sink.now() + 48000, ON, 0, 60, 100)] * 1000)
    sink.close()


def test_a_virtual_port_is_seen_and_heard_by_others(jack):
    sink = PortSink("Twinspur", "jack", virtual=True)
    other = MidiSource("Twinspur")
    assert other.port == "Twinspur:out"
    sink.prepare(LAYOUT, [Event(0, ON, 0, 60, 100)])
    wait_until(lambda: (0x92, 60, 100) in [each.message for each in other.take()], "the note")
    sink.close()
    other.close()


def test_a_port_that_does_not_exist_is_told_at_once(jack):
    begin = time.monotonic()
    with pytest.raises(PortError, match="There is no MIDI output called 'nobody'"):
        PortSink("nobody")
    assert time.monotonic() - begin < 3


def test_the_process_says_nothing_on_the_terminal(jack, capfd):
    with pytest.raises(PortError):
        PortSink("nobody")
    assert capfd.readouterr() == ("", "")
