from dataclasses import replace
from fractions import Fraction

import pytest

from tests.arranging.lines import GUITAR, eighths, riff_of, tab_part
from trainer.arranging.abilities import Abilities
from trainer.arranging.demand import bars_alone, demand, start_tempo
from trainer.arranging.hand import fret_mm
from trainer.arranging.strokes import Picking
from trainer.music.note import Attack, Moment, Note
from trainer.music.part import TabPart

GALLOP = "0 1/8 3/16 1/4 3/8 7/16 1/2 5/8 11/16 3/4 7/8 15/16"


def gallop(fret: int = 0, string: int = 6) -> tuple[Moment, ...]:
    return tuple(Moment(Fraction(at), (Note(string, fret),)) for at in GALLOP.split())


def load(found: object, name: str) -> float:
    return next(load.value for load in found.limits if load.name == name)  # type: ignore[attr-defined]


def test_a_gallop_at_160_is_eight_notes_and_swings_like_sixteenths() -> None:
    part = tab_part(gallop())
    found = demand(part, riff_of(part, bpm=160))
    assert found.bars[0].notes_per_s == pytest.approx(8.0)
    assert found.bars[0].strokes_per_s == pytest.approx(8.0)
    assert load(found, "swings") == pytest.approx(160 / 60 * 4)  # down, (back), down, up: the hand never rests
    assert load(found, "burst") == pytest.approx(160 / 60 * 4)


def test_loads_grow_with_the_tempo_and_meet_their_ceilings_where_they_say() -> None:
    part = tab_part(gallop())
    riff = riff_of(part, bpm=160)
    slow, fast = demand(part, riff, bpm=Fraction(80)), demand(part, riff, bpm=Fraction(160))
    assert fast.share == pytest.approx(2 * slow.share)
    assert slow.limit_bpm == pytest.approx(fast.limit_bpm)
    assert fast.limit_bpm is not None
    at_limit = demand(part, riff, bpm=Fraction(fast.limit_bpm).limit_denominator(1000))
    assert at_limit.share == pytest.approx(1.0, abs=0.01)


def test_sixteenths_end_at_200_and_all_down_at_half_of_it() -> None:
    sixteenths = tuple(Moment(Fraction(number, 16), (Note(6, 0),)) for number in range(16))
    part = tab_part(sixteenths)
    found = demand(part, riff_of(part, bpm=120), abilities=Abilities(swings_per_s=40 / 3))
    assert found.limit_bpm == pytest.approx(200)
    assert found.all_down_bpm == pytest.approx(100, rel=0.05)
    down = demand(part, riff_of(part, bpm=120), picking=Picking.ALL_DOWN)
    assert down.limit_bpm == pytest.approx(found.all_down_bpm, rel=0.05)


def test_the_limit_of_downstrokes_does_not_depend_on_the_strokes_that_are_written() -> None:
    plain = tab_part(gallop())
    strokes = [replace(moment, pick=direction) for moment, direction in zip(gallop(), "ddu" * 4, strict=True)]
    found = demand(plain, riff_of(plain)).all_down_bpm
    assert found is not None
    assert found < 130
    assert demand(tab_part(tuple(strokes)), riff_of(plain)).all_down_bpm == pytest.approx(found)


def test_hammer_ons_are_notes_but_not_strokes() -> None:
    part = tab_part(eighths(Note(2, 5), Note(2, 7, Attack.HAMMER), Note(2, 5, Attack.PULL), Note(2, 7, Attack.HAMMER)))
    bar = demand(part, riff_of(part)).bars[0]
    assert bar.notes_per_s == 4 * bar.strokes_per_s


def test_a_shift_is_measured_in_millimetres_and_seconds() -> None:
    part = tab_part(eighths(Note(1, 5, finger="1"), Note(1, 17, finger="1")))
    found = demand(part, riff_of(part, bpm=120))
    assert found.bars[0].longest_shift_mm == pytest.approx(fret_mm(GUITAR, 17) - fret_mm(GUITAR, 5))
    assert load(found, "shift") == pytest.approx((fret_mm(GUITAR, 17) - fret_mm(GUITAR, 5)) / 0.25)


def test_a_slide_is_no_shift() -> None:
    part = tab_part(eighths(Note(1, 5), Note(1, 17, Attack.SLIDE_UP)))
    assert demand(part, riff_of(part)).bars[0].shifts_per_s == 0


def test_a_stretch_is_the_same_at_any_tempo() -> None:
    part = tab_part((Moment(Fraction(0), (Note(5, 7), Note(6, 3))),))
    slow, fast = (demand(part, riff_of(part), bpm=Fraction(bpm)) for bpm in (60, 240))
    assert slow.bars[0].stretch_mm == fast.bars[0].stretch_mm == pytest.approx(fret_mm(GUITAR, 7) - fret_mm(GUITAR, 3))
    assert next(load.limit_bpm for load in fast.limits if load.name == "stretch") is None


def test_an_impossible_stretch_stays_in_sight() -> None:
    part = tab_part((Moment(Fraction(0), (Note(5, 11), Note(6, 1))),))
    found = demand(part, riff_of(part))
    assert found.share > 1
    assert found.troubles


def ringing() -> TabPart:
    notes = (Note(5, 3), Note(4, 2), Note(3, 0), Note(2, 1))
    return tab_part(tuple(Moment(Fraction(number, 8), (note,), ring=True) for number, note in enumerate(notes)))


def test_fingers_that_hold_while_a_chord_rings_are_counted() -> None:
    part = ringing()
    assert demand(part, riff_of(part)).bars[0].held_fingers == 2


def test_the_hardest_bar_and_window_are_named() -> None:
    calm = eighths(Note(2, 5), Note(2, 7), Note(2, 8), Note(2, 7))
    wild = tuple(Moment(Fraction(number, 16), (Note(1 + number % 2 * 3, 5 + number % 3),)) for number in range(8, 16))
    part = tab_part(calm, calm, wild, calm)
    found = demand(part, riff_of(part, bpm=140))
    assert found.alone == (3,)
    assert Fraction(2) <= found.window[0] < Fraction(3)
    assert max(found.bars, key=lambda bar: bar.share).bar == 3


def test_even_bars_need_no_practice_alone() -> None:
    part = tab_part(gallop(), gallop(), gallop())
    assert demand(part, riff_of(part)).alone == ()
    assert bars_alone(()) == ()


def test_the_climb_starts_where_the_exercise_says_unless_that_is_near_the_limit() -> None:
    assert start_tempo(Fraction(160), None) == 160
    assert start_tempo(Fraction(92), 201.0) == 92
    assert start_tempo(Fraction(90), 100.0) == 60
    assert start_tempo(Fraction(20), None) == 20


def test_silence_demands_nothing() -> None:
    part = tab_part((Moment(Fraction(0), rest=True),))
    found = demand(part, riff_of(part))
    assert (found.share, found.limit_bpm, found.all_down_bpm, found.alone) == (0.0, None, None, ())


def test_a_jump_back_over_a_string_counts_twice() -> None:
    def rate(picks: str) -> float:
        strings = (3, 2, 3, 2)
        moments = [
            Moment(Fraction(n, 8), (Note(string, 5),), pick=pick)
            for n, (string, pick) in enumerate(zip(strings, picks, strict=True))
        ]
        part = tab_part(tuple(moments))
        return load(demand(part, riff_of(part)), "crossings")

    assert rate("dddd") > rate("dudu")  # every way back from the thin string is a jump


def test_picked_open_strings_ask_nothing_of_the_fretting_hand() -> None:
    open_string, fretted = tab_part(gallop()), tab_part(gallop(3))
    assert "notes" not in {one.name for one in demand(open_string, riff_of(open_string)).limits}
    assert "notes" in {one.name for one in demand(fretted, riff_of(fretted)).limits}


def test_the_hardest_place_is_never_outside_the_bars_to_practise_alone() -> None:
    calm = tuple(Moment(Fraction(n, 4), (Note(6, 3),)) for n in range(4))
    late = (*calm[:3], *(Moment(Fraction(3, 4) + Fraction(n, 32), (Note(6, 3),)) for n in range(8)))
    busy = tuple(Moment(Fraction(n, 16), (Note(6, 3 + n % 2),)) for n in range(16))
    part = tab_part(calm, late, busy, calm)
    riff = riff_of(part, bpm=180)
    found = demand(part, riff)
    hardest = max(bar for bar, start in enumerate(riff.bar_starts[:-1], 1) if start <= found.limits[0].at)
    assert found.alone
    assert hardest in found.alone
