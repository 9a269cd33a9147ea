"""A JACK server dies under a port: run as `python -m tests.playback.dying_jack (sink|source) FOLDER`.

In a process of its own, because a process can be the client of one JACK server only, and the tests have one already.
"""

import subprocess
import sys
import time
from pathlib import Path

from tests.sound_servers import jack_server, wait_until
from trainer.playback.channel_layout import Channel, ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.midi_source import MidiSource, SourceGoneError
from trainer.playback.port_sink import PortSink
from trainer.playback.sink import SinkGoneError


def sink(server: "subprocess.Popen[bytes]") -> None:
    """Say when the sink told it, and when it was closed."""
    listener = MidiSource("outside synth", "jack", virtual=True)
    port = PortSink("outside synth")
    port.prepare(ChannelLayout((Channel("bass", 1, 2),)), [Event(0, Kind.NOTE_ON, 0, 60, 100)])
    wait_until(lambda: (0x92, 60, 100) in [each.message for each in listener.take()], "the note")
    server.kill()
    begin = time.monotonic()
    try:
        while time.monotonic() < begin + 10:
            port.send([Event(port.now() + 480, Kind.NOTE_ON, 0, 60, 100)])
            time.sleep(0.02)
    except SinkGoneError as gone:
        print(f"{time.monotonic() - begin:.2f}", gone)
    begin = time.monotonic()
    port.silence()
    port.close()
    print(f"{time.monotonic() - begin:.2f}")


def source(server: "subprocess.Popen[bytes]") -> None:
    """Say when the source told it, and when it was closed."""
    port = MidiSource("Twinspur in", "jack", virtual=True)
    server.kill()
    begin = time.monotonic()
    try:
        while time.monotonic() < begin + 10:
            port.take()
            time.sleep(0.02)
    except SourceGoneError as gone:
        print(f"{time.monotonic() - begin:.2f}", gone)
    begin = time.monotonic()
    port.close()
    print(f"{time.monotonic() - begin:.2f}")


if __name__ == "__main__":
    with jack_server(Path(sys.argv[2])) as started:
        {"sink": sink, "source": source}[sys.argv[1]](started)
