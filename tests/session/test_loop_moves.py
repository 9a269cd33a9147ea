"""What players do to a loop."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.playback.piece import Loop
from trainer.session.loop_moves import MOVES, LoopMove, end_at, parse_bars, start_at


@st.composite
def loops(draw: st.DrawFn) -> tuple[Loop, int]:
    bars = draw(st.integers(1, 12))
    first = draw(st.integers(0, bars - 1))
    return Loop(first, draw(st.integers(first, bars - 1))), bars


@given(loops(), st.sampled_from(LoopMove))
def test_every_move_stays_inside_the_riff(case: tuple[Loop, int], move: LoopMove) -> None:
    loop, bars = case
    moved = MOVES[move](loop, bars)
    assert 0 <= moved.first <= moved.last < bars


@given(loops())
def test_widening_adds_one_bar_until_all_are_in_and_narrowing_leaves_one(case: tuple[Loop, int]) -> None:
    loop, bars = case
    assert MOVES[LoopMove.WIDEN](loop, bars).bars == min(bars, loop.bars + 1)
    assert MOVES[LoopMove.NARROW](loop, bars).bars == max(1, loop.bars - 1)


def test_a_loop_moves_on_by_its_own_length_and_round_to_the_first_bars() -> None:
    moves = [Loop(0, 1)]
    for _ in range(4):
        moves.append(MOVES[LoopMove.ON](moves[-1], 7))
    assert moves == [Loop(0, 1), Loop(2, 3), Loop(4, 5), Loop(6, 6), Loop(0, 0)]
    assert MOVES[LoopMove.BACK](Loop(0, 1), 8) == Loop(6, 7)


def test_start_and_end_never_cross() -> None:
    assert start_at(Loop(0, 2), 5, 8) == Loop(5, 5)
    assert end_at(Loop(4, 6), 2, 8) == Loop(2, 2)
    assert start_at(Loop(0, 6), 2, 8) == Loop(2, 6)


@pytest.mark.parametrize(
    ("text", "loop"),
    [("3", Loop(2, 2)), ("3-4", Loop(2, 3)), (" 3 to 4 ", Loop(2, 3)), ("1 8", Loop(0, 7)), ("0-2", None),
     ("4-3", None), ("3-9", None), ("", None), ("a", None), ("٣", None), ("3-", None)],
)  # fmt: skip
def test_bars_are_read_as_players_write_them(text: str, loop: Loop | None) -> None:
    assert parse_bars(text, 8) == loop
