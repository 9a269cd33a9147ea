from collections.abc import Sequence
from fractions import Fraction

import pytest

from tests.playback.changing import change
from tests.playback.recording_sink import RecordingSink
from tests.playback.riffs import band, exercise
from trainer.playback.midi_clock import CLOCK, CONTINUE, START, STOP
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

BEGIN = 1088


class ClockedSink(RecordingSink):
    """A recording sink that takes MIDI messages, too."""

    def __init__(self) -> None:
        super().__init__()
        self.told: list[tuple[int, bytes]] = []
        self._messages: list[tuple[int, bytes]] = []

    def send_raw(self, messages: Sequence[tuple[int, bytes]]) -> None:
        self._messages += messages

    def withdraw(self) -> None:
        super().withdraw()
        self._messages.clear()

    def run_to(self, frame: int) -> None:
        super().run_to(frame)
        self.told += [timed for timed in self._messages if timed[0] <= frame]
        self._messages = [timed for timed in self._messages if timed[0] > frame]


def played(plan: Plan) -> tuple[Transport, ClockedSink]:
    music = band(4, 120)
    sink = ClockedSink()
    line = Timeline.of(Piece.of(exercise(music), [music]), load_patches())
    return Transport(line, sink, plan, midi_clock=True), sink


def run(transport: Transport, sink: ClockedSink, frames: int) -> None:
    end = sink.now() + frames
    while sink.now() < end:
        transport.advance()
        sink.run_to(min(end, sink.now() + 960))


def words(sink: ClockedSink) -> list[tuple[int, bytes]]:
    return [timed for timed in sink.told if timed[1] != CLOCK]


def clocks(sink: ClockedSink) -> list[int]:
    return [frame for frame, message in sink.told if message == CLOCK]


def test_the_clock_ticks_24_times_a_quarter_on_exact_frames_from_start_to_stop() -> None:
    transport, sink = played(Plan(Loop(0, 3), Fraction(7, 11), passes=2, count_in=1))
    transport.play()
    quarter = Fraction(24000 * 11, 7)
    run(transport, sink, BEGIN + int(36 * quarter) + 2000)
    assert clocks(sink) == [int(BEGIN + n * quarter / 24 + Fraction(1, 2)) for n in range(36 * 24)]
    assert words(sink) == [
        (int(BEGIN + 4 * quarter + Fraction(1, 2)), START),
        (int(BEGIN + 36 * quarter + Fraction(1, 2)), STOP),
    ]


def test_playing_from_elsewhere_tells_the_song_position_and_continues() -> None:
    transport, sink = played(Plan(Loop(2, 3)))
    transport.play()
    run(transport, sink, 4000)
    assert words(sink) == [(BEGIN, bytes((0xF2, 32, 0))), (BEGIN, CONTINUE)]


def test_seeking_and_stopping_tell_machines_that_follow() -> None:
    transport, sink = played(Plan(Loop(0, 3)))
    transport.play()
    run(transport, sink, 50_000)
    transport.seek(1, Fraction(1, 32))  # half a sixteenth: continue waits for the next one
    cut = sink.now() + BEGIN
    run(transport, sink, 20_000)
    transport.stop()
    stopped = sink.now() + BEGIN
    run(transport, sink, 10_000)
    assert words(sink) == [
        (BEGIN, START),
        (cut, STOP),
        (cut + 3000, bytes((0xF2, 17, 0))),
        (cut + 3000, CONTINUE),
        (stopped, STOP),
    ]
    assert max(clocks(sink)) < stopped


@pytest.mark.parametrize("share", [Fraction(1, 3), Fraction(5, 4)])
def test_a_tempo_change_neither_drops_nor_doubles_a_clock(share: Fraction) -> None:
    transport, sink = played(Plan(Loop(0, 3)))
    transport.play()
    run(transport, sink, 100_000)
    change(transport, share=share)
    cut = sink.now() + BEGIN
    run(transport, sink, 1_200_000)
    before = [Fraction(BEGIN + n * 1000) for n in range(16 * 24)]
    expected = [frame if frame < cut else cut + (frame - cut) / share for frame in before]
    found = clocks(sink)
    assert len(found) == len(expected)
    assert max(abs(a - b) for a, b in zip(found, expected, strict=True)) <= 1


def test_a_sink_without_messages_is_played_without_clock() -> None:
    music = band(1)
    line = Timeline.of(Piece.of(exercise(music), [music]), load_patches())
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 0)), midi_clock=True)
    transport.play()
    transport.advance()
    sink.run_to(3000)
    assert sink.done
