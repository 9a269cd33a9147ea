"""One stream that plays and records: no frame moves, whatever comes too late.

The device itself is tried by the commands' tests, on a real sound server.
"""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from trainer.listening.calibration import RoundTrip
from trainer.listening.duplex import Duplex
from trainer.listening.sound import Samples

RATE, BLOCK = 48_000, 480


@dataclass
class Status:
    """What the device says of a block."""

    input_overflow: bool = False
    output_underflow: bool = False


def block(stream: Duplex, heard: float = 0.0, status: Status | None = None, told: float = 0.1) -> Samples:
    """One block as the device asks for it; what it was given to play."""
    out = np.full((BLOCK, 2), 9.0, np.float32)
    times = SimpleNamespace(outputBufferDacTime=1.0 + told, inputBufferAdcTime=1.0)
    stream._both(np.full((BLOCK, 1), heard, np.float32), out, BLOCK, times, status or Status())
    return out


def ramp(first: int, frames: int) -> Samples:
    """Frames that hold their own number."""
    return np.repeat(np.arange(first, first + frames, dtype=np.float32)[:, None], 2, axis=1)


def made(*sounds: Samples) -> Duplex:
    """A stream whose sounds are all made, and whose device is not opened."""
    stream = Duplex(iter(sounds), RATE)
    stream._maker.start()
    stream._maker.join(5)
    return stream


def test_every_frame_is_played_at_its_place() -> None:
    stream = made(ramp(0, 700), ramp(700, 100), ramp(800, 900))
    played = np.concatenate([block(stream)[:, 0] for _ in range(5)])
    assert played.tolist() == [*range(1_700), *[0] * 700]
    assert stream.all_played


def test_what_comes_too_late_is_silence_and_moves_nothing() -> None:
    wait: list[bool] = []

    def sounds() -> Iterator[Samples]:
        yield ramp(0, 300)
        while not wait:
            time.sleep(0.001)
        yield ramp(300, 1_140)

    stream = Duplex(sounds(), RATE)
    stream._maker.start()
    while not stream._waiting:
        time.sleep(0.001)
    first = block(stream)[:, 0]
    wait.append(True)
    stream._maker.join(5)
    later = np.concatenate([block(stream)[:, 0] for _ in range(2)])
    assert first.tolist() == [*range(300), *[0] * 180]
    assert later.tolist() == [*range(480, 1_440)]
    assert stream.overruns == 1


def test_what_was_heard_is_cut_out_by_its_frames_and_forgotten() -> None:
    stream = made(ramp(0, 4_800))
    for number in range(10):
        block(stream, float(number))
    (sound,) = stream.heard(700, 1_500)
    assert sound.samples.tolist() == [1.0] * 260 + [2.0] * 480 + [3.0] * 60
    assert stream.played(700, 1_500).samples.tolist() == list(range(700, 1_500))
    stream.forget(1_500)
    assert len(stream.heard(0, 1_500)[0].samples) == 1_500 - 3 * BLOCK


def test_dropped_frames_are_counted_once_the_stream_has_settled() -> None:
    stream = made()
    for number in range(100):
        block(stream, status=Status(input_overflow=number in {3, 80}, output_underflow=number == 90))
    assert stream.overruns == 2
    assert stream.told_ms == pytest.approx(100)


def test_what_goes_wrong_while_sound_is_made_comes_through() -> None:
    def sounds() -> Iterator[Samples]:
        yield ramp(0, 10)
        raise ValueError("the bank is gone")

    stream = Duplex(sounds(), RATE)
    stream._maker.start()
    stream._maker.join(5)
    with pytest.raises(ValueError, match="the bank is gone"):
        _ = stream.all_played


def test_a_device_that_stands_still_has_vanished() -> None:
    now = [0.0]
    stream = Duplex(iter([]), RATE, clock=lambda: now[0])
    now[0] = 2.5
    assert not stream.vanished  # it may still be about to begin
    now[0] = 8.5
    assert stream.vanished
    block(stream)
    assert not stream.vanished
    now[0] = 11.0
    assert stream.vanished


def test_a_round_trip_holds_for_openings_of_which_the_device_tells_about_the_same() -> None:
    trip = RoundTrip("out", "in", RATE, 119.0, 0.4, "2031-05-04", told_ms=127.0)
    assert trip.holds(131.0)
    assert not trip.holds(142.0)  # as after a rest of the server's (measured)
    assert RoundTrip("out", "in", RATE, 119.0, 0.4).holds(134.0)
