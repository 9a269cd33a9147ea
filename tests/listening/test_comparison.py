"""A take beside an earlier one."""

from trainer.listening.comparison import beside_earlier
from trainer.practice.verdict import Judge, Measured, Outcome, Verdict


def verdict(**figures: float | int) -> Verdict:
    return Verdict(Outcome.CLEAN, Judge.TAKE, (), Measured(notes=40, **figures))  # type: ignore[arg-type]


def test_tighter_and_fewer_missed_notes_are_told() -> None:
    told = beside_earlier(verdict(spread_ms=14.0, missed=3), verdict(spread_ms=9.0, missed=1))
    assert told == (
        "Tighter than before: the strokes scatter by 9 ms, 14 ms then.",
        "Fewer missed notes: 1, 3 then.",
    )


def test_a_gallop_is_compared_only_when_the_intervals_part() -> None:
    flat = verdict(gallop_ratio=1.7, gallop_low=1.65, gallop_high=1.75)
    near = verdict(gallop_ratio=1.95, gallop_low=1.9, gallop_high=2.0)
    unsure = verdict(gallop_ratio=1.9, gallop_low=1.6, gallop_high=2.2)
    assert "nearer to what is written" in beside_earlier(flat, near)[0]
    assert beside_earlier(flat, unsure) == ("Much as before.",)


def test_nothing_is_said_of_what_was_not_measured() -> None:
    assert beside_earlier(Verdict(Outcome.CLEAN), verdict(spread_ms=9.0)) == ()
