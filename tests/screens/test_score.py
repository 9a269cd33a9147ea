"""Tab as musicians write it, wrapped into systems, with the places of its columns."""

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.playback.riffs import band, bass, exercise, gallop_bar, guitar, melody_bar, riff
from tests.screens.music import LETTERS, piece
from trainer.music.meter import Meter
from trainer.music.note import Attack, Moment, Note, Touch
from trainer.playback.piece import Loop, Piece
from trainer.screens.drawing.pen import ASCII
from trainer.screens.drawing.score import GUTTER, ScoreLook, draw_system
from trainer.screens.drawing.staff import RowKind, staff_for
from trainer.screens.drawing.systems import SPACINGS, ColumnTable, systems_of


def drawn(of: Piece, parts: list[str], width: int = 80, height: int = 40, look: ScoreLook | None = None) -> list[str]:
    staff = staff_for(of, parts, height)
    systems = systems_of(ColumnTable(of, staff.parts), range(len(of.bars)), width, GUTTER, staff.slots)
    look = look or ScoreLook(LETTERS)
    return [row.text for system in systems for row in draw_system(of, system, staff.rows, width, look)]


def test_a_gallop_stands_on_its_string_with_counts_above_and_mutes_below() -> None:
    lines = drawn(Piece.of(exercise(riff(guitar(gallop_bar()))), (riff(guitar(gallop_bar())),)), ["guitar 1"])
    counts = lines[0][GUTTER:].replace("│", " ").split()
    assert counts == ["1", "&", "a", "2", "&", "a", "3", "&", "a", "4", "&", "a"]
    thickest = next(line for line in lines if line.strip().startswith("E ├") and "0" in line)
    assert thickest.count("0") == 12
    assert any("PM╌" in line for line in lines)


def test_the_long_note_of_a_gallop_gets_more_room_than_the_short_ones() -> None:
    table = ColumnTable(piece(1), ["guitar 1"])
    widths = [column.width(6.0) for column in table[0].columns[:3]]
    assert widths[0] > widths[1] == widths[2]


def test_twice_the_length_gets_less_than_twice_the_room() -> None:
    columns = ColumnTable(piece(1), ["guitar 1"])[0].columns
    long, short = columns[0].width(40.0), columns[1].width(40.0)
    assert short < long < 2 * short


def test_both_guitars_stand_one_above_the_other_with_the_interval_line_between() -> None:
    lines = drawn(piece(2), ["guitar 1", "guitar 2"])
    letters = [(n, line[0]) for n, line in enumerate(lines) if line[0] in "AB"]
    line = next(n for n, text in enumerate(lines) if text[2:4] == "AB")
    assert letters[0][1] == "A" and letters[1][1] == "B"
    assert letters[0][0] < line < letters[1][0]


def test_every_technique_shows_the_mark_it_is_written_with() -> None:
    notes = (
        Note(1, 8, bend=10, release=8), Note(1, 12, Attack.TAP), Note(1, 5, Attack.HAMMER), Note(1, 3, Attack.PULL),
        Note(1, 7, Attack.SLIDE_UP, vibrato=True), Note(1, 0, touch=Touch.DEAD), Note(1, 12, touch=Touch.HARMONIC),
        Note(1, 5, short=True),
    )  # fmt: skip
    bar = tuple(Moment(Fraction(n, 8), (note,)) for n, note in enumerate(notes))
    one = riff(guitar(bar))
    lines = drawn(Piece.of(exercise(one), (one,)), ["guitar 1"])
    thinnest = next(line for line in lines if line.startswith("A"))
    assert thinnest.replace("─", " ").replace("├", " ").replace("┤", " ").split()[2:] == [
        "8b10r8", "t12", "h5", "p3", "/7~", "x", "<12>", "5.",
    ]  # fmt: skip


def test_strokes_fingers_accents_chords_and_rests_have_their_rows() -> None:
    bar = (
        Moment(Fraction(0), (Note(2, 5, finger="1"),), accent=">", pick="d", chord="Em"),
        Moment(Fraction(1, 4), (Note(2, 8, finger="4"),), pick="u", ring=True),
        Moment(Fraction(1, 2), rest=True),
    )
    one = riff(guitar(bar))
    of = Piece.of(exercise(one), (one,))
    kinds = [row.kind for row in staff_for(of, ["guitar 1"], 40).rows]
    assert {RowKind.ACCENT, RowKind.CHORD, RowKind.PICK, RowKind.FINGER, RowKind.RING} <= set(kinds)
    text = "\n".join(drawn(of, ["guitar 1"]))
    for mark in ("Em", ">", "⊓", "V", "r"):
        assert mark in text


def test_fingers_of_a_chord_stand_from_the_thickest_string_on_and_one_finger_once() -> None:
    shape = (Note(2, 8, finger="4"), Note(3, 7, finger="3"), Note(4, 5, finger="1"))
    barred = (Note(1, 5, finger="1"), Note(2, 5, finger="1"))
    bar = tuple(Moment(Fraction(n, 8), (barred, shape)[n % 2]) for n in range(8))
    one = riff(guitar(bar))
    last = drawn(Piece.of(exercise(one), (one,)), ["guitar 1"], width=44)[7]
    assert last.split() == ["1", "134"] * 4


def test_a_part_with_fingers_keeps_its_marks_longer_than_the_others() -> None:
    fingered = tuple(replace(moment, notes=(Note(6, 1, finger="1"),), pick="d") for moment in gallop_bar(1))
    one = riff(guitar(fingered), guitar(gallop_bar(), name="guitar 2"))
    of = Piece.of(exercise(one), (one,))
    rows = staff_for(of, ["guitar 1", "guitar 2"], 17).rows
    marks = {(row.kind, row.part) for row in rows if row.kind in (RowKind.MUTE, RowKind.PICK, RowKind.FINGER)}
    assert marks == {(kind, "guitar 1") for kind in (RowKind.MUTE, RowKind.PICK, RowKind.FINGER)}
    whole = staff_for(of, ["guitar 1", "guitar 2"], 40).rows
    assert (RowKind.MUTE, "guitar 2") in {(row.kind, row.part) for row in whole}


def test_without_utf8_everything_is_ascii() -> None:
    text = "".join(drawn(piece(4), list(LETTERS), look=ScoreLook(LETTERS, ASCII, loop=Loop(1, 2), cursor=1)))
    assert text.isascii()
    assert "|-0" in text and " d" not in text[:3]


def test_loop_ends_and_the_chosen_bar_are_marked_in_the_count_row() -> None:
    first = drawn(piece(4), ["guitar 1"], width=200, look=ScoreLook(LETTERS, loop=Loop(1, 2), cursor=3))[0]
    assert first.index("║:") < first.index(":║") < first.index("▸")


def test_a_chord_name_with_markup_and_escapes_shows_literally() -> None:
    bar = (Moment(Fraction(0), (Note(1, 0),), chord="[red]\x1b[31mEm\u202e"),)
    one = riff(guitar(bar))
    text = "\n".join(drawn(Piece.of(exercise(one), (one,)), ["guitar 1"]))
    assert "[red]\\x1b[31mEm\\u202e" in text
    assert "\x1b" not in text


def test_rows_are_given_up_before_parts_and_mine_stays_last() -> None:
    of = piece(4)
    roomy, low, lowest = (staff_for(of, ["guitar 2", "guitar 1"], height) for height in (30, 14, 10))
    assert len(roomy.rows) > len(low.rows) == 14
    assert roomy.parts == low.parts == ("guitar 1", "guitar 2")
    assert lowest.parts == ("guitar 2",)


@given(st.integers(50, 220), st.integers(8, 60), st.integers(1, 9))
def test_every_column_of_every_bar_stands_in_a_system_inside_the_window(width: int, height: int, bars: int) -> None:
    of = piece(bars)
    staff = staff_for(of, ["guitar 1", "guitar 2"], height, bars)
    table = ColumnTable(of, staff.parts)
    systems = systems_of(table, range(bars), width, GUTTER, staff.slots)
    found = {column.column.at for system in systems for column in system.columns}
    assert found == {column.at for bar in range(bars) for column in table[bar].columns}
    for system in systems:
        xs = [(column.x, column.end) for column in system.columns]
        assert all(a_end <= b for (_, a_end), (b, _) in itertools.pairwise(xs))
        assert system.width <= max(width, GUTTER + 1 + table[0].width(SPACINGS[-1]))


def test_a_place_finds_the_column_that_sounds_and_its_cell_finds_the_bar() -> None:
    of = piece(4)
    staff = staff_for(of, ["guitar 1"], 40, 4)
    systems = systems_of(ColumnTable(of, ["guitar 1"]), range(4), 80, GUTTER, staff.slots)
    place = Fraction(1) + Fraction(3, 16) + Fraction(1, 64)
    column = next(found for system in systems if (found := system.column_at(place)))
    assert column.column.at == Fraction(1) + Fraction(3, 16)
    assert next(bar for system in systems if (bar := system.bar_at(column.x)) is not None) in range(4)
    holder = next(system for system in systems if system.column_at(place))
    assert holder.bar_at(column.x) == 1
    assert holder.bar_at(0) is None


def test_a_bar_too_wide_for_the_window_is_broken_at_its_pulses() -> None:
    bar = tuple(Moment(Fraction(n, 32), (Note(1, 10 + n % 3),)) for n in range(32))
    one = riff(guitar(bar))
    of = Piece.of(exercise(one), (one,))
    systems = systems_of(ColumnTable(of, ["guitar 1"]), range(1), 60, GUTTER, 4)
    assert len(systems) > 1
    assert all(system.at % Fraction(1, 4) == 0 for system in systems)


def test_another_riff_begins_a_system_with_its_name() -> None:
    low, high = band(2, name="Low"), band(2, name="High")
    of = Piece.of(exercise(low, high), (low, high))
    systems = systems_of(ColumnTable(of, ["guitar 1"]), range(4), 200, GUTTER, 4)
    assert [system.bars for system in systems] == [(0, 1), (2, 3)]
    assert "High" in "".join(drawn(of, ["guitar 1"], width=200, height=60))


def test_parts_that_play_at_different_counts_share_columns() -> None:
    one = riff(guitar(melody_bar(1, 2, 3, 4)), bass(gallop_bar(string=4)))
    of = Piece.of(exercise(one), (one,))
    assert len(ColumnTable(of, ["guitar 1"])[0].columns) == 4
    assert len(ColumnTable(of, ["guitar 1", "bass"])[0].columns) == 12


def test_counts_that_no_count_row_could_say_get_a_dot() -> None:
    bar = (Moment(Fraction(0), (Note(1, 1),)), Moment(Fraction(1, 28), (Note(1, 2),)))
    one = riff(guitar(bar))
    columns = ColumnTable(Piece.of(exercise(one), (one,)), ["guitar 1"])[0].columns
    assert [column.mark for column in columns] == ["1", ".", "2", "3", "4"]


@pytest.mark.parametrize(("meter", "counts"), [(Meter(7, 8), 7), (Meter(12, 8), 12), (Meter(3, 4), 3)])
def test_every_count_of_the_meter_has_a_column(meter: Meter, counts: int) -> None:
    one = riff(guitar((Moment(Fraction(0), (Note(1, 1),)),)), meters=(meter,))
    columns = ColumnTable(Piece.of(exercise(one), (one,)), ["guitar 1"])[0].columns
    assert [column.mark for column in columns] == [str(n + 1) for n in range(counts)]
    assert sum((column.length for column in columns), Fraction(0)) == meter.length
