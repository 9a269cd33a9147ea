"""The tab comes first: no pane, and no verdict, ever hides a row of the system that is played."""

from functools import cache
from itertools import product
from pathlib import Path

import pytest

from tests.screens.music import RIG
from trainer.arranging.realise import realise_exercise
from trainer.notation.files import read_file
from trainer.screens.drawing.staff import RowKind, StaffRow, staff_for, staff_rows
from trainer.screens.stand_layout import LEAST_PROSE, Layout, Wanted, layout_for
from trainer.session.choices import Pane
from trainer.session.music import LoadedExercise

BUNDLED = [path for path in sorted(Path("exercises").glob("*.md")) if path.name != "README.md"]
SIZES = [(60, 18), (80, 24), (120, 40), (200, 55)]
NECK_LINES = 9
STATES = list(product(Pane, Pane, (False, True), (0, 3)))
"""Of the neck and of the words, whether the stand listens, and how many lines its panel lacks."""


@cache
def loaded(path: Path) -> list[LoadedExercise]:
    """Every riff of an exercise, and its form."""
    exercise = realise_exercise(read_file(path, RIG.patch_names, path.name), path.name)
    return [LoadedExercise.of(exercise, riff, RIG) for riff in (*(riff.name for riff in exercise.riffs), "")]


def lines_of_tab(height: int, layout: Layout) -> int:
    """Lines that are left for the tab and the marks under it."""
    below = 0 if layout.wide else layout.panel + layout.prose
    return height - 2 - below - layout.neck - layout.heard


def views(exercise: LoadedExercise) -> list[tuple[str, ...]]:
    """The parts that are drawn: mine alone, both guitars, all."""
    mine = exercise.guitars[0]
    return [(mine,), exercise.guitars[:2], tuple(dict.fromkeys((mine, *exercise.parts)))]


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_no_row_of_my_part_is_ever_hidden(path: Path) -> None:
    for (width, height), exercise, state in product(SIZES, loaded(path), STATES):
        neck, prose, listening, lacking = state
        for parts in views(exercise):
            rows = staff_rows(exercise.piece, parts)
            layout = layout_for(width, height, Wanted(neck, prose, NECK_LINES, rows, listening, lacking))
            assert layout.heard >= listening
            tab = lines_of_tab(height, layout) - listening
            drawn = staff_for(exercise.piece, parts, tab).rows
            whole = staff_for(exercise.piece, parts[:1], 99).rows
            told = f"{exercise.riff or 'form'} {parts} at {width}x{height}, {state}: {layout}"
            assert len(drawn) <= tab, told
            assert set(_own(whole)) <= set(_own(drawn)), told


def _own(rows: tuple[StaffRow, ...]) -> list[StaffRow]:
    """The count row, the strings and the marks."""
    return [row for row in rows if row.kind not in (RowKind.HEAD, RowKind.GAP)]


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
@pytest.mark.parametrize("listening", [False, True])
def test_both_guitars_keep_every_row_from_120_by_40_on_unless_a_pane_is_asked_for(path: Path, listening: bool) -> None:
    for (width, height), exercise in product([(120, 40), (200, 55)], loaded(path)):
        parts = exercise.guitars[:2]
        rows = staff_rows(exercise.piece, parts)
        layout = layout_for(width, height, Wanted(Pane.ROOM, Pane.ROOM, NECK_LINES, rows, listening))
        assert lines_of_tab(height, layout) - listening >= rows.whole


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_at_80_by_24_every_string_of_both_guitars_stands_there_while_listening(path: Path) -> None:
    for exercise in loaded(path):
        parts = exercise.guitars[:2]
        rows = staff_rows(exercise.piece, parts)
        layout = layout_for(80, 24, Wanted(Pane.ROOM, Pane.ROOM, NECK_LINES, rows, True))
        if rows.lean <= 18:
            assert staff_for(exercise.piece, parts, lines_of_tab(24, layout) - 1).parts == tuple(
                name for name in exercise.piece.part_names if name in parts
            )


def laid_out(rows: int, height: int = 40, *, listening: bool = True) -> Layout:
    """The panes beside a system of so many rows, with every pane where there is room."""
    from trainer.screens.drawing.staff import StaffRows

    return layout_for(120, height, Wanted(Pane.ROOM, Pane.ROOM, NECK_LINES, StaffRows(rows, rows, rows), listening))


def test_the_lesson_gives_way_first_then_the_neck_then_the_figures_then_the_verdict() -> None:
    panes = [laid_out(rows) for rows in range(1, 40)]
    gone = [
        next(rows for rows, layout in enumerate(panes, 1) if given_way(layout))
        for given_way in (
            lambda layout: layout.prose < LEAST_PROSE,
            lambda layout: not layout.neck,
            lambda layout: layout.panel < 7,
            lambda layout: layout.heard < 2,
        )
    ]
    assert gone == sorted(set(gone)), gone
    assert panes[-1].panel == 2 and panes[-1].heard == 1
