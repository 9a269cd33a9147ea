"""A click train with a steady tone beside it, played live: sent a little ahead, by the sink's clock."""

import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.playback.tiny_bank import CLICK, KEY, TONE
from trainer.playback.channel_layout import Channel, ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.synth_sink import SynthSink

LAYOUT = ChannelLayout((Channel("drums", None, 9), Channel("bass", 1, 1)))


def play_click_train(sink: SynthSink, bpm: float, clicks: int, ahead: float = 0.3) -> NDArray[np.int64]:
    """Play `clicks` clicks, and wait for them; the frames they were sent for."""
    prepared = [Event(0, Kind.PROGRAM, 0, CLICK, 0), Event(0, Kind.PROGRAM, 1, TONE, 0)]
    sink.prepare(LAYOUT, prepared)
    start = sink.now() + sink.rate // 2
    wanted = [start + round(n * 60 * sink.rate / bpm) for n in range(clicks)]
    sink.send([Event(start - sink.rate // 4, Kind.NOTE_ON, 1, KEY, 127)])
    sent = 0
    while (now := sink.now()) < wanted[-1] + sink.rate // 2:
        due = now + round(ahead * sink.rate)
        batch = [Event(frame, Kind.NOTE_ON, 0, KEY, 127) for frame in wanted[sent:] if frame < due]
        sink.send(batch)
        sent += len(batch)
        time.sleep(0.01)
    sink.silence()
    return np.array(wanted)


def read_recording(path: Path) -> NDArray[np.float32]:
    """A recording of interleaved stereo floats, shape (frames, 2)."""
    samples = np.fromfile(path, dtype=np.float32)
    return samples[: len(samples) // 2 * 2].reshape(-1, 2)
