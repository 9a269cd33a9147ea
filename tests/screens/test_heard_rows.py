"""The strip under the tab, the sentences and the meter, drawn without a terminal."""

from fractions import Fraction

from tests.screens.music import piece
from trainer.listening.bands import Bands
from trainer.listening.performance import PlayedStroke
from trainer.listening.written import WrittenStroke
from trainer.screens.drawing.heard_rows import (
    NOT_JUDGED,
    HeardStrip,
    Mark,
    level_row,
    marks_of,
    off_strokes,
    strip_row,
)
from trainer.screens.drawing.pen import ASCII, BOX
from trainer.screens.drawing.systems import ColumnTable, systems_of


def played(offset: Fraction, late_ms: float | None, shift: int = 0) -> PlayedStroke:
    stroke = WrittenStroke(Fraction(0), Fraction(1, 4), (40,), offset=offset)
    return PlayedStroke(stroke, None if late_ms is None else 1.0, late_ms, shift)


def test_a_mark_tells_early_late_lost_and_wrong_by_its_sign() -> None:
    marks = marks_of(
        [played(Fraction(0), -62.4), played(Fraction(1, 4), 41.0), played(Fraction(1, 2), None),
         played(Fraction(1), 1.0, shift=2)],
        Fraction(2), Bands(),
    )  # fmt: skip
    assert [mark.at for mark in marks] == [Fraction(2) + each for each in (0, Fraction(1, 4), Fraction(1, 2), 1)]
    assert [mark.text(BOX, 4) for mark in marks] == ["«62", "41»", "✗", "≠"]
    assert [mark.text(ASCII, 4) for mark in marks] == ["<62", "41>", "x", "#"]
    assert [mark.text(BOX, 2) for mark in marks] == ["«", "»", "✗", "≠"]


def test_a_stroke_within_the_good_band_has_no_mark() -> None:
    """Two metres away only what needs a look is marked."""
    good = [played(Fraction(n, 4), late) for n, late in enumerate((0.0, 3.0, -8.0, 12.0))]
    assert {Bands().band(item.deviation_ms or 0.0, 0.25) for item in good} == {0, 1}
    assert marks_of(good, Fraction(0), Bands()) == ()
    music = piece(2)
    (system, *_) = systems_of(ColumnTable(music, music.part_names[:1]), range(2), 80, 6, 4)
    assert not strip_row(system, HeardStrip("A"), 80, BOX).text.strip()


def test_every_marked_stroke_has_a_line_of_its_own() -> None:
    strokes = [played(Fraction(0), -12.4), played(Fraction(1, 4), 2.0), played(Fraction(1, 2), None)]
    assert off_strokes(strokes, Bands()) == ("bar 1: 12 ms early", "bar 1: not heard")


def test_what_is_steady_is_no_fault_of_any_stroke() -> None:
    strokes = [played(Fraction(n, 4), 12.0 + late) for n, late in enumerate((0.0, -1.0, 64.0, 1.0))]
    assert [mark.late_ms for mark in marks_of(strokes, Fraction(0), Bands(), habit_ms=12.0)] == [64]
    assert off_strokes(strokes, Bands(), habit_ms=12.0) == ("bar 1: 64 ms late",)


def test_marks_stand_in_the_columns_of_their_strokes_in_their_own_system() -> None:
    music = piece(4)
    first, *others = systems_of(ColumnTable(music, music.part_names[:1]), range(4), 60, 6, 4)
    columns = first.columns
    strip = HeardStrip("A", (Mark(columns[0].column.at, -12), Mark(columns[1].column.at, None)))
    text = strip_row(first, strip, 60, BOX).text
    assert text.startswith("A ms")
    assert text[columns[0].x] == "«" and text[columns[1].x] == "✗"
    assert len(text) == 60
    assert all(not strip_row(other, strip, 60, BOX).text.strip() for other in others)


def test_a_pass_that_was_not_followed_has_no_marks_but_says_so() -> None:
    music = piece(2)
    (system, *_) = systems_of(ColumnTable(music, music.part_names[:1]), range(2), 80, 6, 4)
    assert NOT_JUDGED in strip_row(system, HeardStrip("B", followed=False), 80, BOX).text
    assert not strip_row(system, None, 80, BOX).text.strip()


def test_the_meter_grows_with_the_level_and_names_clipping() -> None:
    quiet, loud = level_row(-50, False, 40, BOX).text, level_row(-6, False, 40, BOX).text
    assert quiet.count(BOX.full) < loud.count(BOX.full) < 31
    assert "-6 dB" in loud
    assert "CLIPS" in level_row(0, True, 40, BOX).text
    assert BOX.full not in level_row(-120, False, 40, BOX).text
