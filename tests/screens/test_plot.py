"""The plot of tempos over days."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.screens.drawing.pen import ASCII, BOX
from trainer.screens.drawing.plot import PlotData, Reach, day_ticks, draw_plot, nice_step, scale

FIRST = date(2031, 1, 6)


def curve(*values: float, target: float = 0.0) -> PlotData:
    points = tuple((FIRST + timedelta(days=7 * n), value) for n, value in enumerate(values))
    best = tuple((day, max(values[: n + 1])) for n, (day, _) in enumerate(points))
    return PlotData(points, best, target)


def lines(drawn: PlotData, width: int = 60, height: int = 12, ascii_only: bool = False) -> list[str]:
    return [row.text for row in draw_plot(drawn, width, height, ASCII if ascii_only else BOX)]


def test_steps_are_round() -> None:
    assert [nice_step(span, 5) for span in (1, 3, 7, 40, 48, 100, 480)] == [0.2, 1, 2, 10, 10, 20, 100]


@given(st.floats(20, 400), st.floats(0, 200), st.integers(2, 9))
def test_a_scale_holds_everything_and_no_more_than_it_needs(low: float, span: float, most: int) -> None:
    levels = scale(low, low + span, most)
    assert levels[0] <= low + 1e-6
    assert levels[-1] >= low + span - 1e-6
    assert list(levels) == sorted(set(levels))
    assert len(levels) <= most + 3


def test_the_axes_name_tempos_and_days() -> None:
    drawn = lines(curve(90, 100, 96, 110))
    assert any(row.startswith(" 90 ├") for row in drawn)
    assert any(row.startswith("110 ├") for row in drawn)
    assert "6 Jan" in drawn[-1]


def test_the_target_is_a_broken_line_with_its_name() -> None:
    (row,) = [row for row in lines(curve(90, 100, target=140)) if "target 140" in row]
    assert row.count("╌") > 20


def test_higher_is_faster() -> None:
    drawn = lines(curve(90, 110))
    assert min(n for n, row in enumerate(drawn) if "•" in row) == 0
    assert max(n for n, row in enumerate(drawn) if "•" in row) == 10


def test_the_line_holds_the_best_so_far_on_a_worse_day() -> None:
    drawn = lines(curve(100, 80, 90))
    top = drawn[0]
    assert any("\u2800" < char <= "\u28ff" for char in top[30:])


def test_many_days_are_dots_and_few_are_points() -> None:
    many = PlotData(tuple((FIRST + timedelta(days=n), 90 + n % 7) for n in range(300)), ((FIRST, 96.0),))
    assert "•" not in "".join(lines(many))
    assert "•" in "".join(lines(curve(90, 95, 99)))


def test_one_day_alone_is_drawn() -> None:
    assert "•" in "".join(lines(curve(100, target=120)))


def test_without_utf_8_everything_is_ascii() -> None:
    drawn = lines(curve(90, 100, 96, 110, target=120), ascii_only=True)
    assert all(row.isascii() for row in drawn)
    assert sum(row.count("*") for row in drawn) == 4


@pytest.mark.parametrize(("width", "height"), [(0, 0), (10, 3), (23, 12), (24, 4), (300, 100)])
def test_any_size_gives_rows_of_that_size(width: int, height: int) -> None:
    drawn = draw_plot(curve(90, 120, target=150), width, height, BOX)
    assert len(drawn) == height
    assert {len(row.chars) for row in drawn} <= {width}


@given(st.integers(1, 6000), st.integers(2, 12))
def test_day_names_lie_in_the_axis_and_are_few(span: int, most: int) -> None:
    last = FIRST + timedelta(days=span)
    ticks = day_ticks(FIRST, last, most)
    assert all(FIRST <= day <= last for day, _ in ticks)
    assert len(ticks) <= 2 * most + 1
    assert [day for day, _ in ticks] == sorted({day for day, _ in ticks})


def test_years_are_named_when_they_are_many() -> None:
    assert [name for _, name in day_ticks(date(2020, 5, 1), date(2031, 5, 1), 5)] == ["2025", "2030"]


def test_the_expected_day_stands_on_the_targets_line_between_the_earliest_and_the_latest() -> None:
    seen = replace(curve(90, 100, 110, target=120), reach=Reach(*(FIRST + timedelta(days=n) for n in (20, 28, 35))))
    (row,) = [row for row in lines(seen) if "target 120" in row]
    assert "[" in row
    assert row.index("target") < row.index("[") < row.index("◇") < row.index("]")
    assert row[row.index("[") + 1 : row.index("◇")].strip("─") == ""
    (plain,) = [row for row in lines(seen, ascii_only=True) if "target 120" in row]
    assert plain.index("[") < plain.index("o") < plain.index("]")


def test_a_day_that_is_later_than_the_plot_leaves_the_bracket_open_or_is_left_out() -> None:
    far = FIRST + timedelta(days=4000)
    open_end = replace(curve(90, 100, 110, target=120), reach=Reach(FIRST, FIRST + timedelta(days=30), far))
    (row,) = [row for row in lines(open_end) if "target 120" in row]
    assert "◇" in row
    assert "]" not in row
    beyond = replace(open_end, reach=Reach(far, far, far))
    assert lines(beyond) == lines(curve(90, 100, 110, target=120))


def test_what_was_reached_ends_where_the_record_ends() -> None:
    seen = replace(curve(100, 100, target=101), reach=Reach(*(FIRST + timedelta(days=n) for n in (10, 20, 21))))
    bottom = lines(seen, width=63)[-2]
    assert any("\u2800" < char <= "\u28ff" for char in bottom[:30])
    assert not any("\u2800" < char <= "\u28ff" for char in bottom[35:])
