import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.practice.made import heard
from trainer.practice.verdict import CLEAN, UNJUDGED, Judge, Measured, Outcome, Reason, Verdict
from trainer.values import read


@settings(deadline=None)
@given(st.randoms(use_true_random=False), st.sampled_from(list(Outcome)))
def test_a_verdict_survives_a_file(chance: object, outcome: Outcome) -> None:
    verdict = heard(chance, outcome)  # type: ignore[arg-type]
    assert read(Verdict, json.loads(json.dumps(verdict.as_dict()))) == verdict


def test_the_players_word_is_short() -> None:
    assert CLEAN.as_dict() == {"outcome": "clean", "judge": "player"}
    assert CLEAN.counts and not UNJUDGED.counts
    assert Verdict(Outcome.UNJUDGED, Judge.TAKE).judge == "take"


def test_three_reasons_are_enough() -> None:
    with pytest.raises(ValueError, match="3 reasons at most, not 4"):
        Verdict(Outcome.MISSED, reasons=(Reason("Late."),) * 4)


@pytest.mark.parametrize(
    "figures",
    [
        {"clean_share": 1.2},
        {"spread_ms": -1.0},
        {"bias_ms": float("nan")},
        {"bias_ms": "late"},
        {"notes": -1},
        {"gallop_low": 1.9},
    ],
)
def test_figures_that_cannot_be_are_refused(figures: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"."):
        Measured(**figures)  # type: ignore[arg-type]


@pytest.mark.parametrize("bar", [0, "3", 1.5, 10**9])
def test_a_reason_names_a_bar_or_none(bar: object) -> None:
    with pytest.raises(ValueError, match="is no bar"):
        Reason("Late.", bar)  # type: ignore[arg-type]
