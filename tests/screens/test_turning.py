"""Systems are turned so that what comes next is always in view."""

import itertools
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from tests.screens.music import piece
from trainer.screens.drawing.score import GUTTER
from trainer.screens.drawing.systems import ColumnTable, DrawnSystem, in_view, system_at, systems_of


def systems(bars: int, width: int, slots: int) -> tuple[DrawnSystem, ...]:
    return systems_of(ColumnTable(piece(bars), ["guitar 1"]), range(bars), width, GUTTER, slots)


def test_what_fits_never_moves() -> None:
    found = systems(4, 80, 4)
    assert {in_view(found, 4, Fraction(n, 4)) for n in range(16)} == {tuple(range(len(found)))}


@given(st.integers(5, 12), st.integers(2, 4), st.integers(0, 3), st.integers(0, 63))
def test_the_system_being_read_and_the_next_are_in_view(bars: int, slots: int, passes: int, step: int) -> None:
    found = systems(bars, 60, slots)
    place = Fraction(step * bars, 64)
    now = system_at(found, place)
    shown = in_view(found, slots, place, passes)
    assert now in shown
    columns = found[now].columns
    late = place >= columns[min(2, len(columns) - 1)].column.at
    if slots > 2 or late:
        assert (now + 1) % len(found) in shown


@given(st.integers(5, 12), st.integers(2, 4))
def test_a_system_stays_in_its_slot_while_it_is_read(bars: int, slots: int) -> None:
    found = systems(bars, 60, slots)
    for passes in range(3):
        before: dict[int, int] = {}
        for step in range(bars * 16):
            place = Fraction(step, 16)
            now = system_at(found, place)
            slot = in_view(found, slots, place, passes).index(now)
            assert before.setdefault(now, slot) == slot


def test_only_one_system_is_exchanged_at_a_time() -> None:
    found = systems(12, 60, 3)
    views = [in_view(found, 3, Fraction(step, 16)) for step in range(12 * 16)]
    for one, other in itertools.pairwise(views):
        assert sum(a != b for a, b in zip(one, other, strict=True)) <= 1


def test_a_single_system_turns_with_its_last_bar_still_to_be_played() -> None:
    found = systems(9, 100, 1)
    assert len(found) > 1
    for one, other in itertools.pairwise(found):
        assert one.bars[-1] == other.bars[0]
        assert in_view(found, 1, other.at) == (found.index(other),)
        assert one.end > other.at


def test_a_bar_that_fills_the_line_is_turned_by_its_last_pulse() -> None:
    found = systems(4, 44, 1)
    for one, other in itertools.pairwise(found):
        assert one.at < other.at < one.end
