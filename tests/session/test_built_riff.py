"""Building plays bars with one note over the join."""

from fractions import Fraction

from tests.playback.riffs import band, guitar, melody_bar, riff
from trainer.music.meter import Meter
from trainer.music.tempo import TempoMark
from trainer.playback.piece import Piece
from trainer.practice.methods import Building, BuiltLoop
from trainer.practice.verdict import Outcome
from trainer.session.built_riff import built_riff


def test_from_the_front_the_loop_ends_on_the_first_note_of_the_next_bar() -> None:
    built = built_riff(band(4), BuiltLoop(1, 2, False, True))
    assert [str(meter) for meter in built.riff.meters] == ["4/4", "4/4", "1/4"]
    assert built.offset == 0
    for part in (*built.riff.tabs, *built.riff.drums):
        assert [moment.offset for moment in part.bars[-1]] == [Fraction(0)]


def test_from_the_end_the_loop_begins_with_the_last_note_of_the_bar_before() -> None:
    built = built_riff(band(4), BuiltLoop(4, 4, True, False))
    assert [str(meter) for meter in built.riff.meters] == ["4/4", "4/4"]
    assert built.offset == 2
    gallop = built.riff.tabs[0].bars[0]
    assert [moment.offset for moment in gallop] == [Fraction(15, 16)]


def test_the_whole_riff_has_nothing_over_its_ends() -> None:
    whole = band(3)
    assert built_riff(whole, BuiltLoop(1, 3, False, False)).riff == whole


def test_tempo_marks_go_with_their_bars() -> None:
    bars = tuple(melody_bar(1, 2, 3, 4) for _ in range(3))
    marks = (TempoMark(Fraction(0), Fraction(90), False), TempoMark(Fraction(2), Fraction(120), False))
    built = built_riff(riff(guitar(*bars), marks=marks), BuiltLoop(2, 3, False, False))
    assert built.riff.tempo_marks == (
        TempoMark(Fraction(0), Fraction(90), False), TempoMark(Fraction(1), Fraction(120), False)
    )  # fmt: skip


def test_every_loop_of_a_building_can_be_played() -> None:
    from tests.playback.riffs import exercise

    whole = band(5)
    for from_end in (False, True):
        building = Building(1, 5, from_end=from_end)
        for _ in range(6):
            built = built_riff(whole, building.loop)
            piece = Piece.of(exercise(built.riff), (built.riff,))
            end = built.offset + piece.length
            assert 0 <= built.offset < end <= whole.length
            building = building.after(Outcome.CLEAN)
    odd = riff(guitar(melody_bar(1, 2, 3), melody_bar(1, 2, 3)), meters=(Meter(3, 4), Meter(3, 4)))
    assert built_riff(odd, BuiltLoop(1, 1, False, True)).riff.length == 1
