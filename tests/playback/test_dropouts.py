import pytest

from trainer.playback.dropouts import DropoutCount

RATE = 48000


def _play(count: DropoutCount, seconds: float, period: int, lost_at: dict[float, float], drift: float = 0.0) -> None:
    """Read every 7 ms the clock of a device that steps by `period` frames and stands still where it loses sound."""
    for step in range(int(seconds / 0.007)):
        now = step * 0.007
        lost = sum(length for at, length in lost_at.items() if at <= now)
        frame = int((now - lost) * (1 + drift) * RATE) // period * period
        count.read(now, frame)


def test_a_steady_device_has_no_dropout():
    count = DropoutCount(RATE)
    _play(count, 30, 1024, {})
    assert (count.count, count.seconds) == (0, 0.0)


def test_a_clock_a_little_slow_is_no_dropout():
    count = DropoutCount(RATE)
    _play(count, 60, 1024, {}, drift=-300e-6)
    assert count.count == 0


def test_each_gap_is_counted_with_its_length():
    count = DropoutCount(RATE)
    _play(count, 20, 1024, {4.0: 0.016, 9.0: 0.030, 15.0: 0.1})
    assert count.count == 3
    assert count.seconds == pytest.approx(0.146, abs=0.01)


def test_reading_late_is_no_dropout():
    count = DropoutCount(RATE)
    for step in range(400):
        now = step * 0.007
        late = 0.04 if step % 9 == 0 else 0.0
        count.read(now + late, int(now * RATE))
    assert count.count == 0


def test_a_buffer_filled_late_for_a_second_is_no_dropout():
    count = DropoutCount(RATE)
    for step in range(3000):
        now = step * 0.007
        behind = 0.012 if 5 < now < 6 else 0.0
        count.read(now, int((now - behind) * RATE))
    assert count.count == 0
