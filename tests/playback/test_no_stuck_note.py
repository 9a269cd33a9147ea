"""Whatever is done to a transport, in whatever order: every note that begins ends, and none begins twice."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.playback.changing import change
from tests.playback.recording_sink import CuttingSink, RecordingSink, unmatched
from tests.playback.riffs import band, bass, exercise, guitar, melody_bar, riff
from trainer.music.meter import Meter
from trainer.music.note import Attack, Moment, Note
from trainer.music.tempo import TempoMark
from trainer.playback.click_track import SilentBars
from trainer.playback.event import Kind
from trainer.playback.frame_map import TempoCurve
from trainer.playback.gesture import REST
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

RIG = load_patches()


def _lead() -> tuple[Moment, ...]:
    ring = tuple(Moment(Fraction(i, 8), (Note(4 - i, 2 + i),), ring=True) for i in range(3))
    bent = Moment(Fraction(1, 2), (Note(2, 8, bend=10, release=8, vibrato=True),))
    slid = Moment(Fraction(3, 4), (Note(2, 12, Attack.SLIDE_UP),))
    return (*ring, bent, slid, Moment(Fraction(7, 8), (Note(2, 10, Attack.PULL), Note(1, 10)), accent="^"))


_ODD = riff(
    guitar(_lead(), _lead()[:3]),
    guitar(_lead(), _lead()[:3], name="guitar 2"),
    bass((Moment(Fraction(0), (Note(4, 0),)),), ()),
    name="Signal fires",
    meters=(Meter(4, 4), Meter(7, 8)),
    marks=(TempoMark(Fraction(1, 4), Fraction(90), True), TempoMark(Fraction(1), Fraction(190), False)),
    target=140,
)
_RIFFS = (band(3, 173), _ODD)
LINE = Timeline.of(Piece.of(exercise(*_RIFFS), _RIFFS), RIG)
BARS = len(LINE.piece.bars)


def _with_guitar_2(*bars: tuple[Moment, ...]) -> Timeline:
    """The same piece with another second guitar in its first riff."""
    first = _RIFFS[0]
    parts = tuple(guitar(*bars, name="guitar 2") if part.name == "guitar 2" else part for part in first.parts)
    riffs = (replace(first, parts=parts), _ODD)
    return Timeline.of(Piece.of(exercise(*riffs), riffs), RIG)


OTHER = _with_guitar_2(melody_bar(0, 12, 3), melody_bar(*range(7), length=Fraction(1, 7)), _lead())
FINER = replace(LINE, curve=TempoCurve(LINE.curve.spans, 7 * LINE.curve.steps), tones=tuple(
    tone._replace(step=7 * tone.step, end=7 * tone.end) for tone in LINE.tones
))  # fmt: skip
"""The same notes on a finer grid."""

shares = st.fractions(Fraction(1, 5), Fraction(3, 2), max_denominator=200)
parts = st.sampled_from(LINE.parts)
patterns = st.sampled_from([None, *RIG.click_patterns])
loops = st.tuples(st.integers(0, BARS - 1), st.integers(0, BARS - 1)).map(lambda ends: Loop(min(ends), max(ends)))


def _seek(transport: Transport, bar: int, part_of_bar: Fraction) -> None:
    loop = transport.plan.loop
    bar = loop.first + bar % loop.bars
    transport.seek(bar, LINE.piece.bars[bar].meter.length * part_of_bar)


def _hear(transport: Transport, part: str, heard: bool) -> None:
    mix = transport.plan.mix
    change(transport, mix=mix.with_(part) if heard else mix.without(part))


Act = Callable[[Transport], object]
acts: st.SearchStrategy[Act] = st.one_of(
    st.just(Transport.play),
    st.just(Transport.stop),
    st.just(Transport.rewind),
    st.builds(
        lambda bar, at: lambda t: _seek(t, bar, at),
        st.integers(0, 9),
        st.sampled_from([Fraction(n, 7) for n in range(7)]),
    ),
    st.builds(lambda loop: lambda t: change(t, loop=loop), loops),
    st.builds(lambda part, heard: lambda t: _hear(t, part, heard), parts, st.booleans()),
    st.builds(
        lambda part, level: lambda t: change(t, mix=t.plan.mix.with_level(part, level)), parts, st.integers(-60, 12)
    ),
    st.builds(lambda share: lambda t: change(t, share=share), shares),
    st.builds(
        lambda click, silent: lambda t: change(t, click=click, silent_bars=silent),
        patterns,
        st.sampled_from([None, SilentBars(1, 1)]),
    ),
    st.builds(lambda passes: lambda t: change(t, passes=passes), st.sampled_from([None, 1, 3])),
    st.builds(lambda bars: lambda t: change(t, count_in=bars), st.integers(0, 2)),
    st.builds(lambda line: lambda t: t.set_timeline(line), st.sampled_from([LINE, OTHER, FINER])),
)
waits = st.one_of(st.integers(0, 200), st.integers(0, 20_000), st.integers(0, 200_000))


@settings(max_examples=150, deadline=None)
@given(
    steps=st.lists(st.tuples(acts, waits), max_size=14),
    kind=st.sampled_from([RecordingSink, CuttingSink]),
    ahead=st.sampled_from([Fraction(1, 50), Fraction(1, 4), Fraction(3)]),
    human=st.sampled_from([None, 5]),
    loop=loops,
)
def test_every_note_that_begins_ends(
    steps: list[tuple[Act, int]], kind: type[RecordingSink], ahead: Fraction, human: int | None, loop: Loop
) -> None:
    sink = kind(min_ahead=1088)
    plan = Plan(loop, passes=None, click=RIG.click_pattern("gallop"), human_seed=human)
    transport = Transport(LINE, sink, plan, ahead_seconds=ahead)
    transport.play()
    for act, wait in steps:
        act(transport)
        until = sink.now() + wait
        while sink.now() < until:
            transport.advance()
            sink.run_to(min(until, sink.now() + 960))
    transport.stop()
    sink.run_to(sink.now() + 48_000)
    assert unmatched(sink.done) == ([], [])
    assert not sink.late
    wheels = dict.fromkeys(range(len(LINE.layout.channels)), REST)
    for event in sink.of(Kind.BEND, Kind.NOTE_ON):
        if event.kind is Kind.BEND:
            wheels[event.channel] = event.one
        else:
            assert wheels[event.channel] == REST  # no note begins bent by the one before it
    clicks = [event.frame for event in sink.of(Kind.CLICK)]
    assert len(clicks) == len(set(clicks))


changes: st.SearchStrategy[Act] = st.one_of(
    st.builds(lambda share: lambda t: change(t, share=share), shares),
    st.builds(lambda loop: lambda t: change(t, loop=loop), st.just(Loop(0, BARS - 1))),
    st.builds(lambda passes: lambda t: change(t, passes=passes), st.just(1)),
    st.builds(
        lambda part, level: lambda t: change(t, mix=t.plan.mix.with_level(part, level)), parts, st.integers(-60, 12)
    ),
    st.builds(lambda line: lambda t: t.set_timeline(line), st.sampled_from([LINE, FINER])),
)


@settings(max_examples=60, deadline=None)
@given(
    steps=st.lists(st.tuples(changes, st.integers(0, 40_000)), max_size=20),
    kind=st.sampled_from([RecordingSink, CuttingSink]),
    ahead=st.sampled_from([Fraction(1, 50), Fraction(1, 4), Fraction(3)]),
    human=st.sampled_from([None, 5]),
)
def test_changes_that_leave_the_notes_alone_play_each_exactly_once(
    steps: list[tuple[Act, int]], kind: type[RecordingSink], ahead: Fraction, human: int | None
) -> None:
    sink = kind()
    plan = Plan(Loop(0, BARS - 1), click=RIG.click_pattern("eighths"), human_seed=human)
    transport = Transport(LINE, sink, plan, ahead_seconds=ahead)
    transport.play(4800)
    for act, wait in steps:
        act(transport)
        until = sink.now() + wait
        while sink.now() < until:
            transport.advance()
            sink.run_to(min(until, sink.now() + 960))
    while transport.advance():
        sink.run_to(sink.now() + 960)
    played = Counter((event.channel, event.one) for event in sink.of(Kind.NOTE_ON))
    assert played == Counter((tone.channel, tone.key) for tone in LINE.tones)
    assert len(sink.of(Kind.CLICK)) == 4 * 8 + 7
