"""Large figures are told apart, keep their size, and do without half cells."""

from itertools import combinations

import pytest

from trainer.screens.drawing.panel import large, size
from trainer.screens.drawing.pen import ASCII, BOX, Pen


@pytest.mark.parametrize("pen", [BOX, ASCII])
@pytest.mark.parametrize("scale", [1, 2, 3])
def test_no_two_figures_look_alike(pen: Pen, scale: int) -> None:
    for one, other in combinations("0123456789-", 2):
        assert large(one, scale, pen) != large(other, scale, pen)


@pytest.mark.parametrize("pen", [BOX, ASCII])
@pytest.mark.parametrize("scale", [1, 2, 3])
def test_a_figure_has_the_size_it_says(pen: Pen, scale: int) -> None:
    width, height = size("12", scale)
    lines = large("12", scale, pen)
    assert len(lines) == height
    assert {len(line) for line in lines} == {width}


def test_without_utf8_figures_are_ascii() -> None:
    assert "".join(large("0123456789:-", 2, ASCII)).isascii()
