"""Tuplets of any number, and bars in any order: read, written, tidied, and played as they are written."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.meter import Meter
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.music.sounding import sounding
from trainer.notation.count import MOST_PARTS, CountError, read_counts, write_counts
from trainer.notation.read import read
from trainer.notation.tidy import tidy
from trainer.notation.write import block_lines, in_written_order, write

FOUR = Meter(4, 4)
FRONT = '+++\ntitle = "Tuplets"\n+++\n\n## Riff\n\n'


def riff(rows: str, block: str = "") -> Riff:
    text = FRONT + (f"```riff\n{block}\n```\n\n" if block else "") + f"```tab guitar 1\n{rows}\n```\n"
    found = read(text)
    assert read(write(found)) == found
    assert read(tidy(text)) == found
    return found.riffs[0]


def starts(found: Riff) -> list[Fraction]:
    part = found.parts[0]
    assert isinstance(part, TabPart)
    return [note.at for note in sounding(part, found.bar_starts)]


@pytest.mark.parametrize("parts", [5, 7, 9, 10, 11, 13, 16])
def test_dots_divide_a_beat_evenly(parts: int) -> None:
    rows = f"count | 1 {'. ' * (parts - 1)}2 3 4 |\n5     | {'0 ' * parts}0 0 0 |"
    found = starts(riff(rows))
    assert found[:parts] == [Fraction(i, 4 * parts) for i in range(parts)]
    assert found[parts:] == [Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)]


def test_five_in_the_time_of_two_beats() -> None:
    found = starts(riff("count | 1 . . . . 2 . . . . 3 4 |\n5     | 0   0   0   0   0   0   |"))
    assert found == [*(Fraction(i, 10) for i in range(5)), Fraction(1, 2)]


def test_four_in_the_time_of_a_dotted_quarter() -> None:
    rows = "count | 1 . . . 4 5 6 |\n5     | 0 0 0 0 0 0 0 |"
    assert starts(riff(rows, 'meter = "6/8"'))[:5] == [Fraction(3 * i, 32) for i in range(5)]


@given(st.integers(1, MOST_PARTS), st.integers(0, 3), st.data())
def test_every_even_division_of_a_beat_can_be_written(parts: int, beat: int, data: st.DataObject) -> None:
    chosen = data.draw(st.sets(st.integers(0, parts - 1), min_size=1))
    offsets = frozenset((beat + Fraction(part, parts)) / 4 for part in chosen)
    marks = write_counts(offsets, FOUR)
    assert offsets <= {offset for _, offset in marks}
    text = " ".join(mark for mark, _ in marks)
    assert [column.offset for column in read_counts(text, FOUR)] == [offset for _, offset in marks]


def test_too_many_dots_are_told() -> None:
    with pytest.raises(CountError, match="16 dots side by side"):
        read_counts("1 " + ". " * 16 + "2 3 4", FOUR)


BARS = "count | 1 2 3 4 | % | 1 2 3 4 | 1 2 3 4 |\n5     | 0 2 3 5 |   | 5 3 2 0 | 7     r |"


def frets(found: Riff) -> list[str]:
    part = found.parts[0]
    assert isinstance(part, TabPart)
    return ["".join(str(note.fret) for moment in bar for note in moment.notes) for bar in part.bars]


def test_a_first_and_a_second_ending() -> None:
    found = riff(BARS, 'order = "1-3, 1-2, 4"')
    assert frets(found) == ["0235", "0235", "5320", "0235", "0235", "7"]
    assert len(found.meters) == 6


def test_a_repeated_bar_stays_the_bar_it_repeated() -> None:
    assert frets(riff(BARS, 'order = "3, 2, 4 x2, 1"')) == ["5320", "0235", "7", "7", "0235"]


def test_a_bar_that_an_order_never_plays_is_told() -> None:
    with pytest.raises(ProblemsError, match="bar 3 is never played"):
        riff(BARS, 'order = "1-2, 4"')


def test_a_part_is_written_back_in_the_bars_that_stand_in_the_file() -> None:
    rows = "count | 1 & 2 3 4 | 1 2 3 4 | 1 2 3 4 |\ntempo | 120 | 90 | 100 |\n5     | 0 2 3 5 7 | 5 3 2 0 | 7       |"
    found = riff(rows, 'order = "1-2, 1, 3"')
    part = found.tabs[0]
    again = riff("\n".join(block_lines(part, found, found.tempo_marks)), 'order = "1-2, 1, 3"')
    assert again == found
    assert in_written_order(part, found) == part


def test_tempo_and_meter_marks_move_with_their_bars() -> None:
    rows = "count | 1 2 3 4 | 1 2 3 |\nmeter |         | 3/4   |\ntempo |         | 90    |\n5     | 0       | 2     |"
    found = riff(rows, 'order = "2, 1, 2"')
    assert [str(meter) for meter in found.meters] == ["3/4", "4/4", "3/4"]
    assert [mark.at for mark in found.tempo_marks] == [Fraction(0), Fraction(7, 4)]


@pytest.mark.parametrize("order", ["0-2", "3-2", "1-5", "x", "1,,2", "1-4 x100", "9" * 40, "1 - - 2"])
def test_an_order_that_names_no_bars_is_told_at_its_line(order: str) -> None:
    with pytest.raises(ProblemsError, match=r"exercise\.md:8:1: .* names no bars of this riff"):
        riff(BARS, f'order = "{order}"')


def test_an_order_is_bounded() -> None:
    with pytest.raises(ProblemsError, match="more than 2,000 bars"):
        riff(BARS, 'order = "' + ", ".join(["1-4 x99"] * 6) + '"')


def test_a_pull_off_that_an_order_turns_round_is_told() -> None:
    rows = "count | 1 2 3 4 | 1 2 3  4 |\n5     | 9       | 5   p3   |"
    assert frets(riff(rows)) == ["9", "53"]
    with pytest.raises(ProblemsError, match="a hammer-on from fret 9 to fret 7"):
        riff("count | 1 2 3 4 | 1  2 3 4 | 1 2 3 4 |\n5     | 5       | h7       | 9       |", 'order = "1-3, 2"')
