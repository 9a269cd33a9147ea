from fractions import Fraction

import pytest

from trainer.music.problem import ProblemsError
from trainer.playback.mix import CLICK, Mix
from trainer.playback.share import Climb, exact_bpm, parse_share, playable_bpm, share_for_bpm

TARGET = Fraction(160)


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("96", Fraction(3, 5)),
        ("60%", Fraction(3, 5)),
        ("400", Fraction(5, 2)),
        ("20", Fraction(1, 8)),
        ("62.5 %", Fraction(5, 8)),
    ],
)
def test_a_tempo_is_asked_for_in_bpm_or_per_cent(text: str, share: Fraction) -> None:
    assert parse_share(text, TARGET) == share


@pytest.mark.parametrize("text", ["0", "10000", "19", "401", "19%", "151%", "", "fast", "-96", "9e1", "٩٦", "1\x1b[2J"])
def test_any_other_tempo_is_a_problem_that_says_what_is_allowed(text: str) -> None:
    with pytest.raises(ProblemsError, match=r"20 to 400 bpm, or 20% to 150% of the target") as caught:
        parse_share(text, TARGET)
    assert "\x1b" not in str(caught.value)


def test_bpm_outside_the_range_are_refused() -> None:
    with pytest.raises(ValueError, match="outside 20 to 400"):
        share_for_bpm(19, TARGET)


def test_a_tempo_goes_from_the_log_to_the_transport_without_a_change() -> None:
    for hundredths in range(2_000, 40_001, 7):
        exact = Fraction(hundredths, 100)
        assert exact_bpm(float(exact)) == exact_bpm(exact) == exact
        assert share_for_bpm(float(exact), TARGET) * TARGET == exact


def test_a_tempo_that_cannot_be_played_becomes_the_nearest_that_can() -> None:
    assert [playable_bpm(bpm) for bpm in (0.0, 19.99, 96.125, Fraction(1, 3), 5000)] == [
        20,
        20,
        Fraction("96.12"),
        20,
        400,
    ]


def test_a_climb_rises_to_the_target_and_no_further() -> None:
    share, bpms = Fraction(150, 160), []
    for _ in range(4):
        share = Climb.parse("4").after(share, TARGET)
        bpms.append(share * TARGET)
    assert bpms == [154, 158, 160, 160]
    assert Climb.parse("3%").after(Fraction(100, 160), TARGET) * TARGET == 103
    assert Climb.parse("3%").after(Fraction(103, 160), TARGET) * TARGET == Fraction(10609, 100)
    assert Climb.parse("4").after(Fraction(170, 160), TARGET) * TARGET == 170


@pytest.mark.parametrize("text", ["0", "101", "x", "", "-4", "0%"])
def test_a_climb_that_leads_nowhere_is_a_problem(text: str) -> None:
    with pytest.raises(ProblemsError, match="bpm such as 4"):
        Climb.parse(text)


def test_a_mix_hears_one_part_alone_leaves_one_out_and_keeps_levels_within_bounds() -> None:
    parts = ("guitar 1", "bass", CLICK)
    assert [part for part in parts if Mix().only(["bass"], parts).heard(part)] == ["bass"]
    assert [part for part in parts if Mix().without("bass").heard(part)] == ["guitar 1", CLICK]
    assert Mix().without("bass").with_("bass").heard("bass")
    assert Mix().with_level("bass", -100).level_db("bass") == -60
    assert Mix().with_pan("bass", 4).pan("bass") == 1
    assert Mix().pan("bass") is None
