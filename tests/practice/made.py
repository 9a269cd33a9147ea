"""Passes, logs and clocks for the tests of the practice room."""

import random
from datetime import UTC, datetime, timedelta
from typing import Any

from trainer.practice.days import practice_day
from trainer.practice.line import Line
from trainer.practice.passes import Pass
from trainer.practice.verdict import CLEAN, MISSED, UNJUDGED, Measured, Outcome, Reason, Verdict

LEAD = Line("iron-causeway", "Low road", "guitar 1")
TWIN = Line("iron-causeway", "Low road", "guitar 2")
NOON = datetime(2031, 3, 1, 12, tzinfo=UTC)
VERDICTS = {Outcome.CLEAN: CLEAN, Outcome.MISSED: MISSED, Outcome.UNJUDGED: UNJUDGED}


def clock() -> datetime:
    return NOON


def played(number: int, outcome: Outcome | Verdict = Outcome.CLEAN, **changes: Any) -> Pass:
    """Pass `number`, ten seconds after the one before."""
    at = changes.pop("at", NOON + timedelta(seconds=10 * number))
    values: dict[str, Any] = {
        "uuid": f"{number:032x}",
        "at": at,
        "day": practice_day(at),
        "line": LEAD,
        "digest": "a1",
        "first_bar": 1,
        "last_bar": 4,
        "whole": True,
        "tempo_bpm": 100.0,
        "seconds": 9.5,
        "verdict": outcome if isinstance(outcome, Verdict) else VERDICTS[outcome],
    }
    return Pass(**(values | changes))


def heard(chance: random.Random, outcome: Outcome) -> Verdict:
    """A verdict that a take may have given."""
    reasons = tuple(Reason(f"Bar {bar} is late.", bar) for bar in chance.sample(range(1, 5), chance.randrange(3)))
    measured = Measured(bias_ms=chance.uniform(-9, 9), spread_ms=chance.uniform(2, 30), clean_share=chance.random())
    return Verdict(outcome, reasons=reasons, measured=measured if chance.random() < 0.7 else None)


def many(count: int, seed: int = 1, days: int = 12) -> list[Pass]:
    """Passes on several lines and days, in the order of their numbers, not of time."""
    chance = random.Random(seed)
    moments = [
        timedelta(days=chance.randrange(days), seconds=chance.randrange(40_000), milliseconds=n) for n in range(count)
    ]
    return [
        played(
            number,
            heard(chance, chance.choice(list(Outcome))),
            at=NOON + moment,
            line=chance.choice([LEAD, TWIN, Line("signal-fires", "Beacon", "guitar 1")]),
            digest=chance.choice(["a1", "a1", "b2"]),
            tempo_bpm=chance.choice([96.0, 100.0, 104.5, 120.25]),
            **chance.choice([{}, {"whole": False, "first_bar": 2, "last_bar": chance.choice([2, 3])}]),
        )
        for number, moment in enumerate(moments)
    ]
