from fractions import Fraction

import pytest

from tests.playback.recording_sink import RecordingSink
from tests.playback.riffs import band, exercise, gallop_bar, guitar, riff
from trainer.music.meter import Meter
from trainer.music.note import Moment, Note
from trainer.playback.click_track import ClickTrack, SilentBars
from trainer.playback.event import Event, Kind
from trainer.playback.mix import CLICK, Mix
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

RIG = load_patches()


def places(pattern: str, meter: Meter) -> list[Fraction]:
    """Where a pattern clicks in a bar of this meter, in whole notes."""
    music = riff(guitar(()), meters=(meter,))
    piece = Piece.of(exercise(music), [music])
    line = Timeline.of(piece, RIG)
    return [click.place for click in ClickTrack(piece, line.voice(CLICK), RIG.click_pattern(pattern)).bar(0)]


def eighths(*numbers: float) -> list[Fraction]:
    return [Fraction(number).limit_denominator(96) / 8 for number in numbers]


@pytest.mark.parametrize(
    ("pattern", "meter", "expected"),
    [
        ("beats", "4/4", eighths(0, 2, 4, 6)),
        ("eighths", "3/4", eighths(0, 1, 2, 3, 4, 5)),
        ("gallop", "2/4", eighths(0, 1, 1.5, 2, 3, 3.5)),
        ("reverse gallop", "2/4", eighths(0, 0.5, 1, 2, 2.5, 3)),
        ("off-beats", "4/4", eighths(1, 3, 5, 7)),
        ("beats", "7/8", eighths(0, 2, 4, 6)),
        ("eighths", "7/8", eighths(0, 1, 2, 3, 4, 5, 6)),
        ("beats", "12/8", eighths(0, 3, 6, 9)),
        ("eighths", "12/8", eighths(*range(12))),
        ("sixteenths", "6/8", eighths(*(n / 2 for n in range(12)))),
        ("gallop", "6/8", eighths(0, 2, 2.5, 3, 5, 5.5)),
        ("triplet gallop", "6/8", eighths(0, 2, 2.5, 3, 5, 5.5)),
        ("reverse gallop", "6/8", eighths(0, 0.5, 1, 3, 3.5, 4)),
        ("off-beats", "6/8", eighths(2, 5)),
        ("triplet gallop", "2/4", [Fraction(n, 24) for n in (0, 4, 5, 6, 10, 11)]),
    ],
)
def test_a_pattern_is_counted_as_players_count_that_meter(pattern: str, meter: str, expected: list[Fraction]) -> None:
    assert places(pattern, Meter.parse(meter)) == expected


def clicked(plan: Plan, *bars: tuple[Moment, ...], meters: tuple[Meter, ...] = ()) -> list[Event]:
    """The clicks of a plan for a riff at 120 bpm, frames counted from its beginning."""
    music = riff(guitar(*bars), meters=meters, target=120)
    line = Timeline.of(Piece.of(exercise(music), [music]), RIG)
    sink = RecordingSink()
    transport = Transport(line, sink, plan)
    transport.play()
    while transport.advance():
        sink.run_to(sink.now() + 4800)
    return [event._replace(frame=event.frame - 1088) for event in sink.of(Kind.CLICK)]


def test_the_first_count_of_a_bar_is_accented() -> None:
    plan = Plan(Loop(0, 1), click=RIG.click_pattern("beats"))
    assert [event.one for event in clicked(plan, gallop_bar(), gallop_bar())] == [1, 0, 0, 0, 1, 0, 0, 0]


def test_the_riffs_own_accents_are_clicked_and_a_riff_without_any_is_clicked_on_its_beats() -> None:
    def at(sixteenth: int, accent: str) -> Moment:
        return Moment(Fraction(sixteenth, 16), (Note(6, 0),), accent=accent)

    bar = (at(0, ""), at(3, ">"), at(6, "^"), at(9, ""), at(12, ">"))
    plan = Plan(Loop(0, 1), click=RIG.click_pattern("accents"))
    found = clicked(plan, bar, (at(0, ">"), at(4, "")))
    assert [(event.frame, event.one) for event in found] == [(18000, 0), (36000, 1), (72000, 0), (96000, 1)]
    assert len(clicked(Plan(Loop(0, 0), click=RIG.click_pattern("accents")), (at(0, ""), at(4, "")))) == 4


def test_silent_bars_go_on_counting_through_the_passes() -> None:
    plan = Plan(Loop(0, 1), passes=3, click=RIG.click_pattern("beats"), silent_bars=SilentBars(2, 1))
    bars = [event.frame // 96000 for event in clicked(plan, gallop_bar(), gallop_bar()) if event.one]
    assert bars == [0, 1, 3, 4]


def test_an_odd_meter_is_counted_in_on_every_count() -> None:
    seven = Meter(7, 8)
    found = clicked(Plan(Loop(0, 0), count_in=1), gallop_bar(0, Meter(3, 4)), meters=(seven,))
    assert [(event.frame, event.one) for event in found] == [(12000 * n, int(n == 0)) for n in range(7)]


def test_the_click_alone_and_everything_but_the_click() -> None:
    music = band(2, 120)
    line = Timeline.of(Piece.of(exercise(music), [music]), RIG)
    for mix, kinds in (
        (Mix().only([CLICK], line.parts), {Kind.CLICK}),
        (Mix().without(CLICK), {Kind.NOTE_ON}),
    ):
        sink = RecordingSink()
        transport = Transport(line, sink, Plan(Loop(0, 1), click=RIG.click_pattern("gallop"), mix=mix))
        transport.play()
        while transport.advance():
            sink.run_to(sink.now() + 4800)
        assert {event.kind for event in sink.of(Kind.CLICK, Kind.NOTE_ON)} == kinds


@pytest.mark.parametrize("text", ["", "2", "0:1", "2:x", "100:1", "-1:1", "٢:1"])
def test_silent_bars_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        SilentBars.parse(text)
