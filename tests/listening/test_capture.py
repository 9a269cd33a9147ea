"""The capture without a device: blocks come as the device brings them."""

from dataclasses import dataclass

import numpy as np
import pytest

from trainer.listening.capture import Capture

RATE, BLOCK = 48_000, 480


@dataclass
class Status:
    """What the device says of a block."""

    input_overflow: bool = False


class Device:
    """Brings blocks to a capture, on a clock of its own."""

    def __init__(self, channels: int = 1) -> None:
        self.now = 50.0
        self.capture = Capture(None, RATE, channels, clock=lambda: self.now)

    def bring(self, blocks: int, *levels: float, flagged: bool = False) -> None:
        for _ in range(blocks):
            self.now += BLOCK / RATE
            block = np.zeros((BLOCK, self.capture.channels), np.float32)
            block[100] = levels or 0.0
            self.capture._take_block(block, BLOCK, None, Status(flagged))


def test_the_callback_only_stamps_and_enqueues() -> None:
    device = Device()
    device.bring(3, 0.5)
    assert len(device.capture._came) == 3  # nothing was looked at yet
    assert device.capture.frames == 3 * BLOCK
    assert not device.capture._came


def test_frames_are_told_by_moments_and_moments_by_frames() -> None:
    device = Device()
    device.bring(300, 0.1)
    capture = device.capture
    assert capture.moment(BLOCK) == pytest.approx(50.0 + 0.01)
    assert capture.frame(51.0) == RATE
    cut = capture.between(BLOCK, 3 * BLOCK)
    assert np.flatnonzero(cut.samples).tolist() == [100, 580]
    capture.forget(2 * BLOCK)
    assert len(capture.between(0, 3 * BLOCK).samples) == BLOCK


def test_what_the_system_tells_it_dropped_is_counted() -> None:
    device = Device()
    device.bring(100)
    device.bring(2, flagged=True)
    device.bring(100)
    assert device.capture.overruns == 2


def test_frames_that_are_missing_without_a_word_are_counted_too() -> None:
    """Some drivers drop frames and tell nobody: the frames then lag behind the clock, and go on lagging."""
    device = Device()
    device.bring(500)
    device.now += 0.02
    device.bring(500)
    assert device.capture.overruns == 1


def test_a_late_callback_is_no_gap() -> None:
    device = Device()
    device.bring(500)
    device.now += 0.05
    capture, now = device.capture, device.now
    for _ in range(5):  # five blocks that waited, all at once
        capture._take_block(np.zeros((BLOCK, 1), np.float32), BLOCK, None, Status())
    device.now = now
    device.bring(500)
    assert capture.overruns == 0


def test_the_input_with_the_guitar_is_listened_to() -> None:
    device = Device(2)
    device.bring(10, 0.001, 0.3)
    capture = device.capture
    assert capture.side == 1
    assert capture.level().peak_db == pytest.approx(-10.5, abs=0.1)
    assert capture.between(0, BLOCK).peak == pytest.approx(0.3)
    device.bring(10, 0.4, 0.3)  # the first is not twice as loud: it stays
    assert capture.side == 1
    capture.choose(0)
    device.bring(10, 0.001, 0.3)
    assert (capture.side, capture.chosen) == (0, 0)
    capture.choose(None)
    device.bring(10, 0.001, 0.3)
    assert (capture.side, capture.chosen) == (1, None)


def test_one_guitar_on_both_inputs_is_the_first_ones() -> None:
    device = Device(2)
    device.bring(10, 0.3, 0.3)
    assert device.capture.side == 0


def test_the_level_tells_clipping_and_silence_since_it_was_last_read() -> None:
    device = Device()
    assert not device.capture.heard
    device.bring(100, 1.0)
    first = device.capture.level()
    device.bring(100, 0.1)
    second = device.capture.level()
    device.bring(201, 0.0)
    third = device.capture.level()
    assert [first.clipped, second.clipped, third.clipped] == [True, False, False]
    assert [first.nothing, second.nothing, third.nothing] == [False, False, True]
    assert second.peak_db == pytest.approx(-20, abs=0.1)
    assert "No signal" in third.sentence
    assert device.capture.heard
