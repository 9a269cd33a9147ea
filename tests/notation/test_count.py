"""The count row, the way players count aloud."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.musical import fine_grid, grid, meters
from trainer.music.meter import Meter
from trainer.notation.count import CountError, count_name, offset_of, read_counts, write_counts

COMMON = Meter(4, 4)
F = Fraction


def places(text: str, meter: Meter = COMMON) -> list[F]:
    """The places of a count row, in beats."""
    return [column.offset / meter.count_length for column in read_counts(text, meter)]


def test_a_gallop_is_an_eighth_and_two_sixteenths() -> None:
    assert places("1 & a 2 3 4")[:4] == [0, F(1, 2), F(3, 4), 1]


def test_sixteenths_are_counted_one_e_and_a() -> None:
    assert places("1 e & a 2 3 4")[:5] == [0, F(1, 4), F(1, 2), F(3, 4), 1]


def test_triplets_are_counted_la_li() -> None:
    assert places("1 la li 2 3 4")[:4] == [0, F(1, 3), F(2, 3), 1]


def test_sextuplets_are_counted_with_ta_between() -> None:
    assert places("1 ta la ta li ta 2 3 4")[:6] == [F(i, 6) for i in range(6)]


def test_thirty_seconds_are_dots_halfway_between_their_neighbours() -> None:
    assert places("1 . e . & . a . 2 3 4")[:8] == [F(i, 8) for i in range(8)]
    assert places("1 2 3 4 .")[-1] == F(7, 2)


def test_numbers_count_the_meters_denominator() -> None:
    assert read_counts("1 2 3 4 5 6 7", Meter(7, 8))[-1].offset == F(6, 8)


def test_a_compound_meter_may_count_its_pulses_alone() -> None:
    assert places("1 4 7 10", Meter(12, 8)) == [0, 3, 6, 9]
    with pytest.raises(CountError, match="count 10 is missing"):
        read_counts("1 2 3 4 5 6 7 8 9", Meter(12, 8))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no counts"),
        ("& 2 3 4", "before the first beat"),
        ("1 2 3 4 5", "count 5 in a bar of 4/4"),
        ("0 1 2 3 4", "counts from 1"),
        ("1 2 4", "count 3 is missing"),
        ("1 3 2 4", "stands after"),
        ("1 a & 2 3 4", "comes too late"),
        ("1 . . . . . . . . . . . . . . . . 2 3 4", "16 dots side by side"),
        ("1 u 2 3 4", "is not a count"),
        ("1 2 3 4 999999999999", "count 999999"),
    ],
)
def test_a_row_that_cannot_be_counted_says_why(text: str, words: str) -> None:
    with pytest.raises(CountError, match=words):
        read_counts(text, COMMON)


@given(st.data())
def test_every_place_of_a_grid_can_be_counted(data: st.DataObject) -> None:
    meter = data.draw(meters)
    which = data.draw(st.sampled_from([grid, fine_grid]))(meter)
    one_beat_each = {int(place * meter.unit): place for place in data.draw(st.sets(st.sampled_from(which)))}
    offsets = frozenset(one_beat_each.values())
    marks = write_counts(offsets, meter)
    read = read_counts(" ".join(mark for mark, _ in marks), meter)
    assert [column.offset for column in read] == [offset for _, offset in marks]
    assert offsets <= {column.offset for column in read}


def test_what_cannot_be_counted_is_refused() -> None:
    with pytest.raises(ValueError, match="no count for 1/17 of a beat"):
        write_counts(frozenset({F(1, 68)}), COMMON)


@given(st.data())
def test_one_count_is_said_and_understood(data: st.DataObject) -> None:
    meter = data.draw(meters)
    place = data.draw(st.sampled_from(grid(meter)))
    assert offset_of(count_name(place, meter), meter) == place


@pytest.mark.parametrize("text", ["", "0", "5", "x", "3 ta", "3 & &", "9999"])
def test_a_count_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # its text is the count itself
        offset_of(text, COMMON)
