"""Who is heard, and how the guide fades under my part."""

from trainer.practice.methods import FadingGuide
from trainer.practice.verdict import Outcome
from trainer.session.choices import Choices, levelled, mix_of, only, toggled, traded

BAND = ("guitar 1", "guitar 2", "bass", "drums", "click")


def test_just_one_part_is_heard_with_the_click_and_once_more_all_are() -> None:
    alone = only(Choices(), "guitar 2", BAND)
    assert [part for part in BAND if mix_of(alone, FadingGuide(), "guitar 1").heard(part)] == ["guitar 2", "click"]
    assert only(alone, "guitar 2", BAND).unheard == ()


def test_a_silent_click_stays_silent_under_just_one_part() -> None:
    assert "click" in only(Choices(unheard=("click",)), "bass", BAND).unheard


def test_a_part_is_silent_and_heard_again() -> None:
    choices = Choices(unheard=("guitar 1",))
    assert toggled(toggled(choices, "bass"), "bass") == choices


def test_swapping_silences_the_other_guitar_when_mine_was_silent() -> None:
    swapped = traded(Choices(mine="guitar 1", unheard=("guitar 1",)), "guitar 1", "guitar 2")
    assert (swapped.mine, swapped.unheard) == ("guitar 2", ("guitar 2",))


def test_the_guide_gets_softer_with_every_clean_pass_and_comes_back_on_a_missed_one() -> None:
    choices, guide = Choices(fading=True, unheard=("guitar 1",)), FadingGuide()
    levels = []
    for _ in range(8):
        mix = mix_of(choices, guide, "guitar 1")
        levels.append(mix.level_db("guitar 1") if mix.heard("guitar 1") else None)
        guide = guide.after(Outcome.CLEAN)
    heard = [level for level in levels if level is not None]
    assert heard == sorted(heard, reverse=True) and heard[0] == 0
    assert levels[-1] is None
    assert mix_of(choices, guide.after(Outcome.MISSED), "guitar 1").heard("guitar 1")


def test_levels_move_by_steps_within_their_bounds() -> None:
    choices = Choices()
    for _ in range(30):
        choices = levelled(choices, "bass", 1)
    assert dict(choices.levels) == {"bass": 12.0}
    assert levelled(levelled(Choices(), "click", 1), "click", -1) == Choices()
    assert levelled(Choices(), "guide", -2).guide_db == -2
