from fractions import Fraction

import pytest

from tests.arranging.lines import riff_of, tab_part
from trainer.arranging.rhythm_cells import accents, lock, rhythm
from trainer.music.note import Moment, Note


def beats(text: str, accented: str = "") -> tuple[Moment, ...]:
    marked = {Fraction(word) for word in accented.split()}
    return tuple(
        Moment(Fraction(word), (Note(6, 0),), accent=">" if Fraction(word) in marked else "") for word in text.split()
    )


def cells(text: str, meter: str = "4/4") -> list[str]:
    part = tab_part(beats(text))
    return [cell.name for cell in rhythm(part, riff_of(part, meter=meter)).cells]


@pytest.mark.parametrize(
    ("onsets", "name"),
    [
        ("0 1/8 3/16", "gallop"),
        ("0 1/16 1/8", "reverse gallop"),
        ("0 1/12 1/6", "triplets"),
        ("0 1/24 1/12 1/8 1/6 5/24", "sextuplets"),
        ("0 1/6 5/24", "triplet gallop"),
        ("0 1/24 1/12", "reverse triplet gallop"),
        ("0 1/6", "shuffle"),
        ("0", "straight"),
        ("0 1/8", "straight"),
        ("0 1/16 1/8 3/16", "straight"),
        ("0 3/16", "dotted"),
        ("1/8", "syncopation"),
        ("1/16 1/8 3/16", "syncopation"),
        ("0 1/16 3/16", "other"),
    ],
)
def test_a_beat_of_four_four_has_its_cell(onsets: str, name: str) -> None:
    assert cells(onsets) == [name]


@pytest.mark.parametrize(
    ("onsets", "name"),
    [("0 2/8 5/16", "triplet gallop"), ("0 1/16 1/8", "reverse triplet gallop"), ("0 1/8 2/8", "straight")],
)
def test_a_beat_of_twelve_eight_has_its_cell(onsets: str, name: str) -> None:
    assert cells(onsets, "12/8") == [name]


def test_a_note_held_over_the_beat_syncopates_the_next() -> None:
    assert cells("0 1/8 3/8 1/2") == ["straight", "syncopation", "straight"]


def test_shares_are_of_the_beats_in_which_notes_start() -> None:
    part = tab_part(beats("0 1/8 3/16 1/4 3/8 7/16 1/2"), beats("3/4"))
    found = rhythm(part, riff_of(part))
    assert found.shares == (("gallop", 0.5), ("straight", 0.5))
    assert found.main == "gallop"
    assert [(cell.bar, cell.beat) for cell in found.cells] == [(1, 1), (1, 2), (1, 3), (2, 4)]


def test_accents_are_told_against_the_meter() -> None:
    part = tab_part(beats("0 1/8 1/4 3/8 1/2", "0 1/4 3/8"), beats("0", "0"))
    found = accents(part, riff_of(part))
    assert (found.count, found.on_first, found.on_beats, found.off_beats) == (4, 2, 1, 1)


def test_accents_every_three_sixteenths_wander_through_the_bar() -> None:
    all_sixteenths = " ".join(f"{number}/16" for number in range(16))
    part = tab_part(beats(all_sixteenths, "0 3/16 6/16 9/16 12/16 15/16"))
    found = accents(part, riff_of(part))
    assert (found.every, found.against) == (Fraction(3, 16), True)
    part = tab_part(beats(all_sixteenths, "0 1/4 1/2 3/4"))
    assert not accents(part, riff_of(part)).against


def test_two_rhythms_lock_where_both_start_notes() -> None:
    found = lock(tab_part(beats("0 1/8 3/16 1/4")), tab_part(beats("0 3/16 1/2")))
    assert (found.together, found.only_one, found.only_other) == (2, 2, 1)
    assert found.share == pytest.approx(0.4)
    assert lock(tab_part(()), tab_part(())).share == 0
