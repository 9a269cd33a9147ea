from datetime import date, timedelta

import pytest

from trainer.practice.spacing import LONGEST_DAYS, review
from trainer.practice.verdict import Outcome

DAY = date(2031, 3, 1)


def test_clean_first_attempts_space_a_line_out_and_a_miss_brings_it_back() -> None:
    memory = review(None, DAY, Outcome.CLEAN)
    gaps = []
    for _ in range(8):
        gaps.append((memory.due - memory.reviewed).days)
        memory = review(memory, memory.due, Outcome.CLEAN)
    assert gaps == sorted(gaps) and gaps[0] >= 1 and gaps[-1] == LONGEST_DAYS
    missed = review(memory, memory.due, Outcome.MISSED)
    assert 1 <= (missed.due - missed.reviewed).days < gaps[-1] / 4


def test_a_missed_new_line_is_due_tomorrow() -> None:
    assert review(None, DAY, Outcome.MISSED).due == DAY + timedelta(days=1)


def test_the_same_reviews_give_the_same_days() -> None:
    assert review(review(None, DAY, Outcome.CLEAN), DAY, Outcome.CLEAN) == review(
        review(None, DAY, Outcome.CLEAN), DAY, Outcome.CLEAN
    )


def test_an_unjudged_pass_is_no_review() -> None:
    with pytest.raises(ValueError, match="no review"):
        review(None, DAY, Outcome.UNJUDGED)
