from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.playback.changing import change
from tests.playback.recording_sink import CuttingSink, RecordingSink, unmatched
from tests.playback.riffs import band, exercise, gallop_bar, guitar, melody_bar, riff
from trainer.music.meter import Meter
from trainer.music.note import Moment, Note
from trainer.music.riff import Riff
from trainer.music.tempo import TempoMark
from trainer.playback.click_track import SilentBars
from trainer.playback.event import Event, Kind
from trainer.playback.mix import Mix
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.position import State
from trainer.playback.share import PassReport
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

RIG = load_patches()
TICK = 960  # 20 ms at 48 kHz, as the player's pause


def timeline(*riffs: Riff) -> Timeline:
    return Timeline.of(Piece.of(exercise(*riffs), riffs), RIG)


def run(transport: Transport, sink: RecordingSink, frames: int | None = None, tick: int = TICK) -> None:
    """Let time pass: for some frames, or until the playing ends."""
    end = None if frames is None else sink.now() + frames
    while (end is None or sink.now() < end) and (transport.advance() or end is not None):
        sink.run_to(sink.now() + (tick if end is None else min(tick, end - sink.now())))


def ons(sink: RecordingSink, timeline: Timeline, part: str) -> list[Event]:
    channels = timeline.layout.of_part(part)
    return [event for event in sink.of(Kind.NOTE_ON) if event.channel in channels]


def rounded(frame: Fraction) -> int:
    return int(frame + Fraction(1, 2))


# -- exact passes ---------------------------------------------------------------------------------------------------


def test_pass_ten_thousand_starts_on_the_frame_that_arithmetic_says() -> None:
    music = riff(guitar(melody_bar(0, length=Fraction(1, 8))), target=173, meters=(Meter(1, 8),))
    sink = RecordingSink()
    line = timeline(music)
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=10_001))
    transport.play(2000)
    run(transport, sink, tick=12_000)
    bar = Fraction(60, 173) / 2 * 48000  # an eighth is half a pulse
    found = [event.frame for event in ons(sink, line, "guitar 1")]
    assert found == [rounded(2000 + n * bar) for n in range(10_001)]


def test_a_loop_over_tempo_and_meter_changes_repeats_exactly() -> None:
    meters = (Meter(4, 4), Meter(7, 8), Meter(12, 8), Meter(3, 4))
    bars = tuple(gallop_bar(0, meter) for meter in (Meter(4, 4), Meter(3, 4), Meter(4, 4), Meter(3, 4)))
    marks = (TempoMark(Fraction(1), Fraction(120), True), TempoMark(Fraction(15, 8), Fraction(150), False))
    music = riff(guitar(*bars), meters=meters, marks=marks, target=171)
    line = timeline(music)
    sink = RecordingSink()
    reports: list[PassReport] = []
    transport = Transport(line, sink, Plan(Loop(1, 2), Fraction(7, 9), passes=5), on_pass=reports.append)
    transport.play(5000)
    run(transport, sink)
    length = line.seconds(Loop(1, 2)) * 48000 * 9 / 7
    assert [report.start for report in reports] == [5000 + n * length for n in range(5)]
    # Bar by bar, each tone's frame is the exact place of the tempo map.
    curve, begin = line.curve, line.curve.at(Fraction(1))
    one = [Fraction(1) + moment.offset for moment in bars[1]] + [Fraction(15, 8) + moment.offset for moment in bars[2]]
    expected = [5000 + n * length + (curve.at(place) - begin) * 48000 * 9 / 7 for n in range(5) for place in one]
    assert [event.frame for event in ons(sink, line, "guitar 1")] == [rounded(frame) for frame in expected]


def test_the_count_in_has_the_meter_and_tempo_of_the_loops_first_bar() -> None:
    music = riff(guitar(gallop_bar(), gallop_bar(0, Meter(3, 4))), meters=(Meter(4, 4), Meter(3, 4)), target=120)
    line = timeline(music)
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(1, 1), Fraction(1, 2), count_in=2))
    transport.play(4800)
    run(transport, sink)
    clicks = sink.of(Kind.CLICK)
    assert [click.frame for click in clicks] == [4800 + 48000 * n for n in range(6)]
    assert [click.one for click in clicks] == [1, 0, 0, 1, 0, 0]
    assert ons(sink, line, "guitar 1")[0].frame == 4800 + 6 * 48000


def test_the_tempo_of_each_pass_is_asked_for_with_a_report_of_the_pass_before() -> None:
    asked: list[PassReport] = []

    def up(report: PassReport) -> Fraction | None:
        asked.append(report)
        return report.share + Fraction(1, 4) if report.number < 3 else None

    line = timeline(band(1, 120))
    sink = RecordingSink()
    ended: list[PassReport] = []
    transport = Transport(
        line, sink, Plan(Loop(0, 0), Fraction(1, 2), passes=None), next_share=up, on_pass=ended.append
    )
    transport.play(4000)
    run(transport, sink)
    assert [report.number for report in asked] == [1, 2, 3]
    assert asked == ended
    assert [report.tempo_bpm for report in ended] == [60, 90, 120]
    assert [report.end - report.start for report in ended] == [4 * 48000, Fraction(4 * 48000 * 2, 3), 2 * 48000]
    assert all(after.start == before.end for before, after in pairwise(ended))
    assert not transport.running
    assert unmatched(sink.done) == ([], [])


# -- changes while it plays -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [RecordingSink, CuttingSink])
@pytest.mark.parametrize("ahead", [Fraction(1, 20), Fraction(1, 4), Fraction(5)])
def test_a_tempo_change_is_heard_at_once_and_drops_doubles_and_jumps_over_nothing(
    ahead: Fraction, kind: type[RecordingSink]
) -> None:
    sink = kind()
    line = timeline(band(8, 173))
    transport = Transport(line, sink, Plan(Loop(0, 7)), ahead_seconds=ahead)
    transport.play(2000)
    run(transport, sink, 100_000)
    called = sink.now()
    change(transport, share=Fraction(2, 3))
    run(transport, sink)
    cut = called + sink.min_ahead
    assert (cut - called) / 48000 < 0.06
    seconds = line.piece.riffs[0].riff.tempo_map[0].slow_from
    for part in line.piece.part_names:
        places = [Fraction(tone.step, line.curve.steps) for tone in line.tones if line.voices[tone.voice].part == part]
        before = [2000 + place * seconds * 48000 for place in places]
        expected = [frame if frame < cut else cut + (frame - cut) * Fraction(3, 2) for frame in before]
        found = [event.frame for event in ons(sink, line, part)]
        assert len(found) == len(expected)
        assert max(abs(a - b) for a, b in zip(found, expected, strict=True)) <= 1
    assert unmatched(sink.done) == ([], [])
    assert not sink.late


def test_after_a_tempo_change_the_next_downbeat_is_on_its_exact_frame() -> None:
    line = timeline(band(2, 173))
    sink = RecordingSink()
    reports: list[PassReport] = []
    transport = Transport(line, sink, Plan(Loop(0, 1), passes=3), on_pass=reports.append)
    transport.play(0)
    run(transport, sink, 50_000)
    change(transport, share=Fraction(61, 100))
    cut = sink.now() + sink.min_ahead
    run(transport, sink)
    start = 1088  # the earliest frame the sink could serve
    length = line.seconds(Loop(0, 1)) * 48000
    second = cut + (start + length - cut) / Fraction(61, 100)
    assert abs(reports[1].start - second) < Fraction(1, 10**6)
    assert reports[2].start - reports[1].start == length / Fraction(61, 100)
    assert [report.steady for report in reports] == [False, True, True]


def test_muting_a_part_ends_its_notes_and_unmuting_takes_up_where_the_others_are() -> None:
    line = timeline(band(4, 120))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 3)))
    transport.play(0)
    run(transport, sink, 60_000)
    change(transport, mix=Mix().without("guitar 2"))
    muted = sink.now() + sink.min_ahead
    run(transport, sink, 100_000)
    change(transport, mix=Mix())
    back = sink.now() + sink.min_ahead
    run(transport, sink)
    channels = line.layout.of_part("guitar 2")
    offs = [event.frame for event in sink.of(Kind.NOTE_OFF) if event.channel in channels]
    assert muted in offs
    found = [event.frame for event in ons(sink, line, "guitar 2")]
    every = [1088 + n * 24000 for n in range(16)]
    assert found == [frame for frame in every if not muted <= frame < back]
    assert len(ons(sink, line, "bass")) == 48
    assert unmatched(sink.done) == ([], [])


def test_levels_and_pans_are_sent_at_once_without_touching_the_notes() -> None:
    line = timeline(band(2))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 1)))
    transport.play(0)
    run(transport, sink, 30_000)
    change(transport, mix=Mix().with_level("bass", -12).with_pan("guitar 1", 1))
    at = sink.now() + sink.min_ahead
    run(transport, sink)
    controls = {(e.channel, e.one): (e.frame, e.two) for e in sink.of(Kind.CONTROL) if e.one in (7, 10)}
    bass, guitar_1 = line.layout.of_part("bass"), line.layout.of_part("guitar 1")
    level = round(100 * 10 ** ((line.voice("bass").level_db - 12) / 40))  # 40 log10(value / 100) dB
    assert level < 51
    assert all(controls[channel, 7] == (at, level) for channel in bass)
    assert all(controls[channel, 10] == (at, 127) for channel in guitar_1)
    assert len(sink.of(Kind.NOTE_ON)) == sum(1 for _ in line.tones)


def test_stopping_ends_every_note_and_playing_goes_on_from_there() -> None:
    line = timeline(riff(guitar(melody_bar(5, 7, 8, 10)), target=60))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 0)))
    transport.play(0)
    run(transport, sink, 100_000)
    transport.stop()
    stopped = sink.now() + sink.min_ahead
    run(transport, sink, 50_000)
    assert sink.of(Kind.NOTE_OFF)[-1].frame == stopped
    assert unmatched(sink.done) == ([], [])
    assert transport.position().state is State.STOPPED
    place = transport.position().offset
    transport.play()
    again = sink.now() + sink.min_ahead
    run(transport, sink)
    frames = [event.frame for event in ons(sink, line, "guitar 1")]
    assert frames[:3] == [1088, 1088 + 48000, 1088 + 96000]  # the third began before the stop
    assert frames[3:] == [again + rounded((Fraction(3, 4) - place) * 4 * 48000)]


def test_seeking_plays_on_from_the_other_place_in_the_same_pass() -> None:
    line = timeline(band(4, 120))
    sink = RecordingSink()
    reports: list[PassReport] = []
    transport = Transport(line, sink, Plan(Loop(0, 3), passes=1), on_pass=reports.append)
    transport.play(0)
    run(transport, sink, 60_000)
    transport.seek(3, Fraction(1, 2))
    at = sink.now() + sink.min_ahead
    run(transport, sink)
    melody = [event for event in ons(sink, line, "guitar 2") if event.frame >= at]
    assert [event.frame for event in melody] == [at, at + 24000]
    assert [report.number for report in reports] == [1]
    assert not reports[0].steady
    assert unmatched(sink.done) == ([], [])


def test_a_new_loop_around_the_place_plays_on_and_one_elsewhere_goes_to_its_start() -> None:
    line = timeline(band(4, 120))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 3), passes=None))
    transport.play(0)
    run(transport, sink, 120_000)  # in bar 1
    change(transport, loop=Loop(1, 1))
    run(transport, sink, 80_000)
    melody = [event.frame for event in ons(sink, line, "guitar 2")]
    assert melody == [1088 + 24000 * n for n in range(len(melody))]
    assert transport.position().bar == 1
    change(transport, loop=Loop(3, 3))
    at = sink.now() + sink.min_ahead
    run(transport, sink, 30_000)
    assert at in [event.frame for event in ons(sink, line, "guitar 2")]
    assert transport.position().bar == 3
    transport.stop()
    run(transport, sink, 3_000)
    assert unmatched(sink.done) == ([], [])


def test_a_note_that_rings_on_ends_with_the_loop() -> None:
    ringing = (Moment(Fraction(1, 2), (Note(3, 2),), ring=True),)
    line = timeline(riff(guitar(ringing, (Moment(Fraction(0), (Note(2, 3),), ring=True),)), target=120))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=2))
    transport.play(0)
    run(transport, sink)
    assert [event.frame for event in sink.of(Kind.NOTE_OFF)] == [1088 + 96_000, 1088 + 192_000]


def test_more_passes_can_be_asked_for_in_the_last_moment() -> None:
    line = timeline(band(1, 120))
    sink = RecordingSink()
    reports: list[PassReport] = []
    transport = Transport(line, sink, Plan(Loop(0, 0), passes=1), on_pass=reports.append)
    transport.play(0)
    run(transport, sink, 94_000)  # 45 ms before the end
    change(transport, passes=2)
    run(transport, sink)
    assert [report.number for report in reports] == [1, 2]
    assert all(report.steady for report in reports)
    assert len(ons(sink, line, "guitar 1")) == 24


def test_leaving_a_bend_for_another_place_leaves_the_wheel_at_rest() -> None:
    bent = (Moment(Fraction(0), (Note(2, 8, bend=10, release=8),)), Moment(Fraction(3, 4), (Note(2, 5),)))
    line = timeline(riff(guitar(bent), target=60))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 0)), ahead_seconds=Fraction(5))
    transport.play(0)
    run(transport, sink, 20_000)
    transport.seek(0, Fraction(3, 4))
    at = sink.now() + sink.min_ahead
    run(transport, sink)
    channel = line.layout.of_part("guitar 1")[1]
    wheels = [event for event in sink.of(Kind.BEND) if event.channel == channel]
    assert wheels[-1][:4] == (at, Kind.BEND, channel, 8192)


def test_an_advance_that_comes_late_plays_late_and_loses_no_note() -> None:
    line = timeline(band(2, 173))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 1)), ahead_seconds=Fraction(1, 100))
    transport.play(0)
    run(transport, sink, tick=24_000)
    assert sink.late
    assert len(sink.of(Kind.NOTE_ON)) == len(line.tones)
    assert unmatched(sink.done) == ([], [])


def test_the_position_follows_the_sinks_clock() -> None:
    music, other = band(2, 120), band(1, 90, "Signal fires")
    line = timeline(music, other)
    sink = RecordingSink()
    transport = Transport(line, sink, Plan(Loop(0, 2), Fraction(1, 2), passes=2, count_in=1))
    transport.play(0)
    begin = 1088 + 4 * 48000
    for frame, expected in [
        (1088, (State.COUNTING_IN, 1, 0, 0, 1, 1, 60)),
        (1088 + 2 * 48000 + 10, (State.COUNTING_IN, 1, 0, 0, 1, 3, 60)),
        (begin, (State.PLAYING, 1, 0, 0, 0, 1, 60)),
        (begin + 5 * 48000, (State.PLAYING, 1, 0, 1, 0, 2, 60)),
        (begin + 8 * 48000 + 64000, (State.PLAYING, 1, 1, 2, 0, 2, 45)),
        (begin + 8 * 48000 + 4 * 64000, (State.PLAYING, 2, 0, 0, 0, 1, 60)),
    ]:
        run(transport, sink, frame - sink.now())
        transport.advance()
        p = transport.position()
        assert (p.state, p.pass_number, p.riff, p.bar, p.count_in_bar, p.count, p.tempo_bpm) == expected
    run(transport, sink)
    assert transport.position().state is State.STOPPED


class CountingSink(RecordingSink):
    """Counts how often it is given events and how often they are withdrawn."""

    sent = withdrawn = 0

    def send(self, events: Sequence[Event]) -> None:
        self.sent += 1
        super().send(events)

    def withdraw(self) -> None:
        self.withdrawn += 1
        super().withdraw()


def test_a_whole_plan_is_changed_in_one_cut() -> None:
    line = timeline(band(4, 120))
    sink = CountingSink()
    transport = Transport(line, sink, Plan(Loop(0, 3), passes=None))
    transport.play(0)
    run(transport, sink, 120_000)  # in bar 1
    sink.withdrawn = 0
    pattern, mix = RIG.click_pattern("eighths"), Mix().without("guitar 1").with_level("bass", -12)
    plan = Plan(Loop(1, 1), Fraction(1, 2), None, 2, pattern, SilentBars(1, 1), mix)
    cut = sink.now() + sink.min_ahead
    transport.change(plan)
    assert sink.withdrawn == 1
    assert transport.plan == plan
    run(transport, sink, 300_000)
    place = (cut - 1088) / 96_000 - 1
    second = rounded(cut + (1 - Fraction(cut - 1088 - 96_000, 96_000)) * 192_000)
    assert 0 < place < 1
    assert [e.frame for e in ons(sink, line, "guitar 2") if e.frame >= second][:4] == [
        second + n * 48_000 for n in range(4)
    ]
    assert not [e for e in ons(sink, line, "guitar 1") if e.frame >= cut]
    assert {e.frame for e in sink.of(Kind.CONTROL) if e.one == 7} == {cut}
    clicks = [e.frame for e in sink.of(Kind.CLICK)]
    assert clicks
    assert all(cut <= frame < second for frame in clicks)  # the second bar is silent
    transport.stop()
    run(transport, sink, 3_000)
    assert unmatched(sink.done) == ([], [])


def test_a_plan_that_changes_nothing_or_only_the_next_start_leaves_the_sink_alone() -> None:
    line = timeline(band(2, 120))
    sink = CountingSink()
    transport = Transport(line, sink, Plan(Loop(0, 1)))
    transport.play(0)
    run(transport, sink, 50_000)
    transport.advance()
    before = sink.sent, sink.withdrawn
    transport.change(transport.plan)
    change(transport, count_in=2)
    assert (sink.sent, sink.withdrawn) == before


@pytest.mark.parametrize("kind", [RecordingSink, CuttingSink])
def test_a_pass_that_counts_plays_to_its_end_while_the_next_one_has_what_is_asked_for(
    kind: type[RecordingSink],
) -> None:
    line = timeline(band(2, 120))
    sink = kind(min_ahead=480)
    faster, quieter = Fraction(9, 8), Mix().with_level("guitar 1", -6)
    reports: list[PassReport] = []

    def next_share(_: PassReport) -> Fraction:
        transport.prepare_next(Loop(0, 1), quieter)
        return faster

    plan = Plan(Loop(0, 1), passes=None)
    transport = Transport(line, sink, plan, next_share=next_share, on_pass=reports.append)
    transport.play(0)
    length = 2 * 96_000
    run(transport, sink, length - 1_800)
    assert len(reports) == 1  # it counts, 50 ms before its end, and sounds on
    louder = quieter.with_level("bass", 3)
    transport.change(replace(plan, share=faster, mix=quieter, click=RIG.click_pattern("beats")))
    run(transport, sink, 400)
    transport.change(replace(plan, share=faster, mix=louder, click=RIG.click_pattern("beats")))
    run(transport, sink, 100_000)
    second = 480 + length
    frames = [event.frame for event in ons(sink, line, "bass")]
    before = [frame for frame in frames if frame < second]
    assert before == [event.frame for event in ons(sink, line, "guitar 1") if event.frame < second]
    assert transport.position().began == second
    assert transport.position().share == faster
    controls = [
        (e.frame, e.two)
        for e in sink.of(Kind.CONTROL)
        if e.one == 7 and e.channel == line.layout.of_part("guitar 1")[0]
    ]
    assert len(controls) == 1
    transport.stop()
    run(transport, sink, 3_000)
    assert not sink.late
    assert unmatched(sink.done) == ([], [])


def test_a_plan_may_ask_for_the_old_tempo_back_before_the_next_pass_begins() -> None:
    line = timeline(band(2, 120))
    sink = RecordingSink(min_ahead=480)
    shares = [Fraction(9, 8), Fraction(1)]
    transport = Transport(line, sink, Plan(Loop(0, 1), passes=None), next_share=lambda _: shares[0])
    transport.play(0)
    run(transport, sink, 2 * 96_000 - 1_800)
    shares.pop(0)
    transport.change(transport.plan)
    run(transport, sink, 50_000)
    assert transport.position().share == 1
