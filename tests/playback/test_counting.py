"""A pass counts a little before its end: told once, in time, whatever is stopped or changed around it."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.playback.changing import change
from tests.playback.recording_sink import CuttingSink, RecordingSink
from tests.playback.riffs import band, exercise, guitar, melody_bar, riff
from tests.playback.test_transport import RIG, ons, run, timeline
from trainer.music.meter import Meter
from trainer.playback.mix import Mix
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.position import State
from trainer.playback.share import PassReport
from trainer.playback.stretch import EARLIEST, LATEST
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport

RATE = 48_000
BAR = 4 * 24_000  # at 120 bpm
BEGIN = 4800


def told_at(line: Timeline, share: Fraction = Fraction(1)) -> Fraction:
    """How many seconds before its end a pass of one bar is told of."""
    sink = RecordingSink()
    told: list[tuple[int, PassReport]] = []
    transport = Transport(
        line, sink, Plan(Loop(0, 0), share, passes=None), on_pass=lambda report: told.append((sink.now(), report))
    )
    transport.play(BEGIN)
    while not told:
        transport.advance()
        sink.run_to(sink.now() + 48)
    at, report = told[0]
    return (report.end - at) / RATE


def bar_of(strokes: int, target: int = 120) -> Timeline:
    length = Fraction(1, strokes)
    return timeline(riff(guitar(melody_bar(*[0] * strokes, length=length)), target=target))


MILLISECOND = Fraction(2, 1000)


def test_a_pass_counts_a_little_before_its_end_when_its_last_stroke_has_long_begun() -> None:
    assert EARLIEST - MILLISECOND <= told_at(bar_of(4)) <= EARLIEST


def test_where_the_last_stroke_comes_later_the_pass_counts_with_it() -> None:
    sixteenths_at_220 = Fraction(60, 4 * 220)
    assert LATEST < sixteenths_at_220 < EARLIEST
    assert sixteenths_at_220 - MILLISECOND <= told_at(bar_of(16, 220)) <= sixteenths_at_220


def test_a_stroke_that_leads_into_the_downbeat_is_not_waited_for() -> None:
    assert LATEST - MILLISECOND <= told_at(bar_of(32, 220)) <= LATEST


def test_every_pass_is_told_once_and_before_the_first_event_of_the_next_one_is_due() -> None:
    line = timeline(band(1, 190))
    sink = RecordingSink()
    told: list[tuple[int, PassReport]] = []
    transport = Transport(
        line, sink, Plan(Loop(0, 0), passes=20), on_pass=lambda report: told.append((sink.now(), report))
    )
    transport.play(BEGIN)
    run(transport, sink)
    assert [report.number for _, report in told] == list(range(1, 21))
    assert all(report.end - at > (LATEST - Fraction(20, 1000)) * RATE for at, report in told)
    assert not transport.running


def test_stopped_after_it_counts_it_goes_on_with_the_next_pass_from_the_top() -> None:
    line = timeline(band(1, 120))
    sink, told = CuttingSink(), list[PassReport]()
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=None), on_pass=told.append)
    transport.play(BEGIN)
    run(transport, sink, BEGIN + BAR - sink.now() - 2400)  # 50 ms before the end
    transport.stop()
    transport.advance()
    assert [report.number for report in told] == [1]
    place = transport.position()
    assert (place.state, place.pass_number, place.bar, place.offset) == (State.STOPPED, 2, 0, Fraction(0))
    transport.play()
    run(transport, sink, BAR)
    assert [report.number for report in told] == [1, 2]


def test_stopped_before_it_counts_the_same_pass_goes_on() -> None:
    line = timeline(band(1, 120))
    sink, told = CuttingSink(), list[PassReport]()
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=None), on_pass=told.append)
    transport.play(BEGIN)
    run(transport, sink, BEGIN + BAR - sink.now() - 9600)  # 200 ms before the end
    transport.stop()
    transport.advance()
    assert not told and transport.position().pass_number == 1 and transport.position().offset > Fraction(3, 4)
    transport.play()
    run(transport, sink, 12_000)
    assert [report.number for report in told] == [1]


def test_the_last_pass_stopped_after_it_counts_leaves_nothing_to_play() -> None:
    line = timeline(band(1, 120))
    sink, told = CuttingSink(), list[PassReport]()
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=1), on_pass=told.append)
    transport.play(BEGIN)
    run(transport, sink, BEGIN + BAR - sink.now() - 2400)
    transport.stop()
    transport.tell()
    assert len(told) == 1
    assert transport.position().pass_number == 1


@pytest.mark.parametrize("late", [1200, 9600])
def test_a_runner_that_was_held_up_over_the_end_loses_no_pass_however_it_is_stopped(late: int) -> None:
    line = timeline(band(1, 120))
    for stop in (Transport.stop, Transport.rewind, lambda t: t.seek(0), lambda t: change(t, loop=Loop(0, 0))):
        sink, told = CuttingSink(), list[PassReport]()
        transport = Transport(line, sink, Plan(Loop(0, 0), passes=None), on_pass=told.append)
        transport.play(BEGIN)
        run(transport, sink, BEGIN + BAR - sink.now() - 9600)
        sink.run_to(BEGIN + BAR + late)
        stop(transport)
        transport.advance()
        assert [report.number for report in told] == [1]


steps = st.lists(st.tuples(st.booleans(), st.integers(0, 120_000)), max_size=16)


@settings(max_examples=80, deadline=None)
@given(steps=steps, tick=st.sampled_from([240, 960, 4000]), kind=st.sampled_from([RecordingSink, CuttingSink]))
def test_however_it_is_stopped_and_started_no_pass_is_lost_or_doubled(
    steps: list[tuple[bool, int]], tick: int, kind: type[RecordingSink]
) -> None:
    line = timeline(band(1, 173))
    sink, told = kind(), list[PassReport]()
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=None), on_pass=told.append)
    for play, frames in steps:
        (transport.play if play else transport.stop)()
        run(transport, sink, frames, tick)
    transport.stop()
    transport.advance()
    assert [report.number for report in told] == list(range(1, len(told) + 1))
    assert transport.position().pass_number == len(told) + 1


def test_the_next_pass_follows_an_answer_that_changes_in_the_last_moment() -> None:
    line = timeline(band(1, 120))
    sink, told = CuttingSink(), list[PassReport]()
    answer = [Fraction(1)]
    transport = Transport(
        line, sink, Plan(Loop(0, 0), passes=None), next_share=lambda _: answer[0], on_pass=told.append
    )
    transport.play(BEGIN)
    run(transport, sink, BEGIN + BAR - sink.now() - 2400)
    answer[0] = Fraction(3, 4)
    transport.ask_again()
    run(transport, sink, 2 * BAR)
    assert [report.share for report in told] == [1, Fraction(3, 4)]
    assert told[1].start == BEGIN + BAR
    assert told[0].steady and told[1].steady


def test_asked_again_too_late_nothing_changes() -> None:
    line = timeline(band(1, 120))
    sink, told = CuttingSink(), list[PassReport]()
    answer = [Fraction(1)]
    transport = Transport(
        line, sink, Plan(Loop(0, 0), passes=None), next_share=lambda _: answer[0], on_pass=told.append
    )
    transport.play(BEGIN)
    run(transport, sink, BEGIN + BAR - sink.now() - 480)
    answer[0] = Fraction(3, 4)
    transport.ask_again()
    run(transport, sink, BAR)
    assert [report.share for report in told] == [1, 1]


def test_what_the_next_pass_is_to_have_does_not_touch_the_end_of_this_one() -> None:
    meter = Meter(4, 4)
    one = guitar(melody_bar(*[0] * 16, length=Fraction(1, 16)))
    two = guitar(melody_bar(*[3] * 16, length=Fraction(1, 16)), name="guitar 2")
    music = riff(one, two, meters=(meter,), target=120)
    line = Timeline.of(Piece.of(exercise(music), (music,)), RIG)
    sink = CuttingSink()

    def swapped(_: PassReport) -> Fraction:
        transport.prepare_next(Loop(0, 0), Mix(unheard=frozenset({"guitar 1"}), levels_db=(("guitar 2", -6.0),)))
        return Fraction(1)

    first = Mix(unheard=frozenset({"guitar 2"}))
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=None, mix=first), next_share=swapped)
    transport.play(BEGIN)
    run(transport, sink, BEGIN + BAR - sink.now() - 9600)
    assert transport.plan.mix == first
    for _ in range(3):
        transport.ask_again()
    run(transport, sink, 12_000)
    assert transport.plan.mix.unheard == {"guitar 1"}
    run(transport, sink, BAR - 12_000)
    end = BEGIN + BAR
    assert [event.frame < end for event in ons(sink, line, "guitar 1")] == [True] * 16
    frames = [event.frame for event in ons(sink, line, "guitar 2")]
    assert min(frames) == end and len(frames) == 15
    levels = [event for event in sink.done if event.kind.name == "CONTROL" and event.one == 7]
    assert {event.frame for event in levels} == {end}
    assert len(levels) == len(line.layout.of_part("guitar 2"))
