"""The explain pane's words follow from what is computed, and fit any width."""

from fractions import Fraction

import pytest

from tests.screens.music import LETTERS, TWIN
from trainer.arranging.demand import demand
from trainer.arranging.realise import realise_exercise
from trainer.music.riff import Riff
from trainer.notation.read import read
from trainer.screens.drawing import ink
from trainer.screens.drawing.prose import explanation_rows
from trainer.screens.explained import Topic, demand_told, explained


@pytest.fixture
def riff() -> Riff:
    return realise_exercise(read(TWIN)).riffs[0]


def test_hardest_place_target_and_nearest_ceilings_come_first(riff: Riff) -> None:
    told = explained(riff, "guitar 1", Fraction(100), LETTERS)
    assert [one.heading for one in told] == [
        "A guitar 1 at 100 bpm", "Low gate", "A guitar 1", "A guitar 1 and the others",
    ]  # fmt: skip
    found = demand(riff.tabs[0], riff, bpm=Fraction(100))
    limits = sorted(load.limit_bpm for load in found.limits if load.limit_bpm is not None)
    first = told[0].sentences
    assert first[0].startswith("Hardest in bar ") and f"{found.share:.0%} of the limit" in first[0]
    assert f"At the target of 160 bpm that is {160 / limits[0]:.0%} of it." in first
    ceilings = [one for one in first if " is reached at " in one]
    assert len(ceilings) == 3 and f"{int(limits[0] + 0.01)} bpm" in ceilings[0]


def test_beyond_the_ceilings_is_said(riff: Riff) -> None:
    part = riff.tabs[0]
    assert "That is beyond the limits set for the hands." in demand_told(demand(part, riff, bpm=Fraction(390)), riff)
    assert not any("beyond" in one for one in demand_told(demand(part, riff, bpm=Fraction(60)), riff))


def test_only_what_concerns_the_riff_and_my_part_is_told(riff: Riff) -> None:
    told = " ".join(one for group in explained(riff, "bass", Fraction(100), LETTERS) for one in group.sentences)
    assert "bass covers" in told and "guitar 1 covers" not in told
    assert "guitar 2 covers" not in told


@pytest.mark.parametrize("width", [1, 10, 40, 200])
def test_it_fits_every_width_and_nothing_is_markup(width: int) -> None:
    told = (
        Topic("[b]Low[/b] \x1b[31m", ("One *two* [link](https://example.org), " + "x" * 90 + " end.",)),
        Topic("B", ("c",)),
    )
    rows = explanation_rows(told, width)
    assert all(len(row.chars) == width for row in rows)
    if width >= 10:
        text = "".join(row.text for row in rows).replace(" ", "")
        assert "[b]Low[/b]\\x1b[31m" in text and "[link](https://example.org)" in text and "x" * 20 in text
        assert "\x1b" not in text
        assert [row.text.strip() for row in rows[-3:]] == ["", "B", "c"]
        assert rows[0].inks[0] == ink.HEAD
