"""When a line is due again: the `fsrs` library (Free Spaced Repetition Scheduler 6), and nothing else imports it.

A day's first attempt at the whole riff is the review: retention shows there, not in later passes. Clean is the
library's "good", missed its "again"; there are no steps within a day, since gaps of minutes do not differ (Wiseheart et
al. 2017), and no chance in the intervals, so that a plan can be told twice.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from typing import TYPE_CHECKING

from trainer.practice.verdict import Outcome

if TYPE_CHECKING:
    from fsrs import Scheduler

RETENTION = 0.9
"""The library's default: due when one attempt in ten is expected to be missed."""
LONGEST_DAYS = 60
"""House rule: a riff that is kept is played at least every two months."""


@dataclass(frozen=True, slots=True)
class Retention:
    """How well a line is kept."""

    stability: float
    """Days until the chance of a clean first attempt falls to 90 %."""
    difficulty: float
    """1 to 10."""
    reviewed: date
    due: date


@cache
def _scheduler() -> "Scheduler":
    from fsrs import Scheduler  # loaded with a line's first pass of a day, not at the start

    return Scheduler(
        desired_retention=RETENTION,
        learning_steps=(),
        relearning_steps=(),
        maximum_interval=LONGEST_DAYS,
        enable_fuzzing=False,
    )


def review(before: Retention | None, day: date, outcome: Outcome) -> Retention:
    """The memory after the first attempt on a day.

    Args:
        before: the memory after the last reviewed day; None for a new line.
        day: the day of the attempt.
        outcome: clean or missed.

    Raises:
        ValueError: for an unjudged attempt, which is no review.
    """
    if outcome is Outcome.UNJUDGED:
        raise ValueError("an unjudged pass is no review")
    from fsrs import Card, Rating, State

    if before is None:
        card = Card(card_id=0, due=_noon(day))
    else:
        card = Card(
            0, State.Review, None, before.stability, before.difficulty, _noon(before.due), _noon(before.reviewed)
        )
    rating = Rating.Good if outcome is Outcome.CLEAN else Rating.Again
    card, _ = _scheduler().review_card(card, rating, _noon(day))
    if card.stability is None or card.difficulty is None:
        raise ValueError("the scheduler gave no memory")
    return Retention(card.stability, card.difficulty, day, card.due.date())


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(12), UTC)
