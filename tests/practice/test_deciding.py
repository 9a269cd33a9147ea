"""Who decides: the key, the take, or both."""

import pytest

from trainer.practice.verdict import Decides, Judge, Measured, Outcome, Reason, Verdict, decided

CLEAN, MISSED, UNJUDGED = Outcome.CLEAN, Outcome.MISSED, Outcome.UNJUDGED


def take(outcome: Outcome) -> Verdict:
    return Verdict(outcome, Judge.TAKE, (Reason("Bar 1 is late.", 1),), Measured(spread_ms=5.0))


@pytest.mark.parametrize(
    ("decides", "said", "heard", "outcome"),
    [
        (Decides.KEY, CLEAN, MISSED, CLEAN),
        (Decides.KEY, UNJUDGED, CLEAN, UNJUDGED),
        (Decides.TAKE, CLEAN, MISSED, MISSED),
        (Decides.TAKE, CLEAN, None, UNJUDGED),
        (Decides.BOTH, CLEAN, CLEAN, CLEAN),
        (Decides.BOTH, CLEAN, MISSED, MISSED),
        (Decides.BOTH, MISSED, CLEAN, MISSED),
        (Decides.BOTH, MISSED, None, MISSED),
        (Decides.BOTH, CLEAN, None, UNJUDGED),
        (Decides.BOTH, CLEAN, UNJUDGED, UNJUDGED),
        (Decides.BOTH, UNJUDGED, CLEAN, UNJUDGED),
    ],
)
def test_whose_word_counts(decides: Decides, said: Outcome, heard: Outcome | None, outcome: Outcome) -> None:
    assert decided(decides, said, take(heard) if heard else None).outcome is outcome


@pytest.mark.parametrize("decides", list(Decides))
def test_what_was_measured_stays_whoever_decides(decides: Decides) -> None:
    assert decided(decides, CLEAN, take(CLEAN)).measured == Measured(spread_ms=5.0)
