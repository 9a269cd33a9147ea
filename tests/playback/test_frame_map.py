"""Exact places to frames: the quick whole-number way agrees with plain fractions, and nothing accumulates."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from trainer.music.meter import Meter
from trainer.music.tempo import TempoMark, tempo_map
from trainer.playback.frame_map import FrameMap, TempoCurve, round_half_up

STEPS = 3840
bpms = st.fractions(Fraction(20), Fraction(400), max_denominator=20)
shares = st.fractions(Fraction(1, 5), Fraction(3, 2), max_denominator=300)
meters = st.lists(st.sampled_from(["4/4", "7/8", "12/8", "5/4", "3/2"]).map(Meter.parse), min_size=1, max_size=5)


@st.composite
def curves(draw: st.DrawFn) -> TempoCurve:
    bars = draw(meters)
    length = sum(meter.length for meter in bars)
    marks = [
        TempoMark(Fraction(place, 16), draw(bpms), draw(st.booleans()))
        for place in sorted(draw(st.sets(st.integers(0, int(length * 16) - 1), max_size=4)))
    ]
    return TempoCurve(tempo_map(bars, draw(bpms), marks), STEPS)


@given(curve=curves(), share=shares, start=st.fractions(0, 10**9, max_denominator=1000), data=st.data())
def test_every_step_lands_on_the_frame_of_its_exact_place(
    curve: TempoCurve, share: Fraction, start: Fraction, data: st.DataObject
) -> None:
    length = curve.spans[-1].at + curve.spans[-1].length
    step = data.draw(st.integers(0, int(length * STEPS)))
    frames = FrameMap(curve, 48000, share, Fraction(0), start)
    place = Fraction(step, STEPS)
    exact = start + curve.at(place) * 48000 / share
    assert frames.frame(step) == round_half_up(exact) == frames.frame_at(place)


@given(curve=curves(), data=st.data())
def test_a_place_and_its_time_belong_together(curve: TempoCurve, data: st.DataObject) -> None:
    length = curve.spans[-1].at + curve.spans[-1].length
    place = length * data.draw(st.fractions(0, 1, max_denominator=1000))
    assert abs(curve.place(curve.at(place)) - place) < Fraction(1, 10**9)


@given(curve=curves(), changes=st.lists(st.tuples(st.integers(1, 10**6), shares), max_size=30))
def test_tempo_changes_never_jump_and_numbers_stay_small(
    curve: TempoCurve, changes: list[tuple[int, Fraction]]
) -> None:
    frames, now = FrameMap(curve, 48000, Fraction(1), Fraction(0), Fraction(0)), 0
    for wait, share in changes:
        now += wait
        before = frames.seconds_at(now)
        frames = frames.rescaled(now, share)
        assert abs(frames.seconds_at(now) - before) < Fraction(1, 10**12)
        assert frames.seconds.denominator <= 1 << 40


def test_the_length_of_any_bars_is_the_sum_of_theirs() -> None:
    bars = [Meter(4, 4), Meter(7, 8), Meter(12, 8)]
    curve = TempoCurve(tempo_map(bars, Fraction(173), [TempoMark(Fraction(1), Fraction(91), True)]), STEPS)
    starts = [Fraction(0), Fraction(1), Fraction(15, 8), Fraction(27, 8)]
    assert sum(curve.at(b) - curve.at(a) for a, b in zip(starts, starts[1:], strict=False)) == curve.seconds[-1]  # noqa: RUF007
