"""Meters, tempos and what sounds: musical time in exact fractions."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.musical import meters
from trainer.music.instrument import instrument
from trainer.music.meter import Meter
from trainer.music.note import Moment, Note
from trainer.music.part import TabPart
from trainer.music.riff import bar_starts
from trainer.music.sounding import sounding
from trainer.music.tempo import TempoMark, tempo_map

PULSES = {
    "4/4": "1/4",
    "7/8": "1/4",
    "12/8": "3/8",
    "6/8": "3/8",
    "3/8": "1/4",
    "2/2": "1/2",
    "5/4": "1/4",
    "9/16": "3/16",
}


@pytest.mark.parametrize(("meter", "tapped"), PULSES.items())
def test_the_foot_taps_dotted_counts_in_compound_meters(meter: str, tapped: str) -> None:
    assert Meter.parse(meter).pulse == Fraction(tapped)


@pytest.mark.parametrize("text", ["", "4", "0/4", "33/4", "4/3", "4/64", "-4/4", "4/4/4", "x/4", "٤/4"])
def test_meters_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(ValueError):  # its text is the meter itself
        Meter.parse(text)


def _seconds(bars: list[Meter], bpm: int, marks: list[TempoMark]) -> Fraction:
    return sum((span.seconds for span in tempo_map(bars, Fraction(bpm), marks)), Fraction(0))


def test_four_quarters_at_sixty_take_four_seconds() -> None:
    assert _seconds([Meter(4, 4)], 60, []) == 4
    assert _seconds([Meter(12, 8)], 60, []) == 4


def test_a_tempo_mark_holds_until_the_next() -> None:
    marks = [TempoMark(Fraction(1, 2), Fraction(120), False), TempoMark(Fraction(1), Fraction(30), False)]
    assert _seconds([Meter(4, 4)] * 2, 60, marks) == 2 + 1 + 8


def test_a_gradual_change_takes_the_mean_of_its_pulse_lengths() -> None:
    assert _seconds([Meter(4, 4)], 60, [TempoMark(Fraction(0), Fraction(120), True)]) == 3


@given(st.lists(meters, min_size=1, max_size=6), st.integers(20, 400), st.data())
def test_spans_follow_each_other_without_gap_or_jump(bars: list[Meter], bpm: int, data: st.DataObject) -> None:
    end = bar_starts(tuple(bars))[-1]
    places = sorted(data.draw(st.sets(st.fractions(0, end, max_denominator=16), max_size=4)))
    marks = [TempoMark(at, Fraction(data.draw(st.integers(20, 400))), data.draw(st.booleans())) for at in places]
    spans = tempo_map(bars, Fraction(bpm), marks)
    at = Fraction(0)
    for span in spans:
        assert span.at == at
        assert span.length > 0
        assert span.seconds_to(span.length) == span.seconds > 0
        at += span.length
    assert at == end


def _part(*bars: tuple[Moment, ...]) -> TabPart:
    return TabPart("guitar 1", instrument(), bars)


WHOLE = [Fraction(0), Fraction(1)]


def test_a_note_sounds_until_the_next_note_of_its_part() -> None:
    part = _part((Moment(Fraction(0), (Note(6, 0),)), Moment(Fraction(1, 4), (Note(1, 3),))))
    assert [(n.at, n.length, n.midi) for n in sounding(part, WHOLE)] == [
        (0, Fraction(1, 4), 40),
        (Fraction(1, 4), Fraction(3, 4), 67),
    ]


def test_a_rest_ends_every_string() -> None:
    part = _part((Moment(Fraction(0), (Note(5, 2), Note(6, 0))), Moment(Fraction(1, 2), rest=True)))
    assert [n.length for n in sounding(part, WHOLE)] == [Fraction(1, 2)] * 2


def test_let_ring_lasts_until_the_string_is_struck_or_the_marks_end() -> None:
    ringing = [Moment(Fraction(i, 4), (Note(string, 2),), ring=True) for i, string in enumerate((4, 3, 4))]
    part = _part((*ringing, Moment(Fraction(3, 4), (Note(1, 0),))))
    assert [n.length for n in sounding(part, WHOLE)] == [Fraction(1, 2), Fraction(1, 2), Fraction(1, 4), Fraction(1, 4)]


def test_a_chords_name_alone_ends_nothing() -> None:
    part = _part((Moment(Fraction(0), (Note(6, 0),)), Moment(Fraction(1, 2), chord="Em")))
    assert [n.length for n in sounding(part, WHOLE)] == [1]
