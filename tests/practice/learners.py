"""Simulated learners with known curves: what the forecast is measured against."""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp, inf, log1p

from trainer.practice.reading import LineDay

FIRST = date(2031, 1, 1)


@dataclass(frozen=True, slots=True)
class Learner:
    """A tempo that grows with each day of practice, and the noise of the best that a day shows of it."""

    start_bpm: float
    gain: float
    """How much of the logarithm there is to gain; for the law "power" a scale."""
    pace: float
    """Days of practice in which it is gained to two thirds."""
    law: str
    """"exponential" levels off, "power" ever slower, "steady" not at all (until far past any target)."""
    noise: float
    often: float
    """The chance of practising on a day."""

    def tempo(self, practised: int) -> float:
        share = {
            "exponential": 1 - exp(-practised / self.pace),
            "power": 0.6 * log1p(practised / (0.5 * self.pace)),
            "steady": 0.65 * practised / self.pace,
        }[self.law]
        return self.start_bpm * exp(self.gain * share)

    def days(self, chance: random.Random, length: int) -> Iterator[LineDay]:
        """The record of so many days of practice."""
        day = FIRST
        for practised in range(length):
            best = self.tempo(practised) * exp(chance.gauss(0, self.noise))
            if chance.random() < 0.06:
                best *= 0.85  # a day of slow work only
            yield LineDay(day, 12, 9, 3, 120.0, round(best, 1), "clean", *[None] * 4)
            day += timedelta(days=1)
            while chance.random() > self.often:
                day += timedelta(days=1)

    def reaches(self, target_bpm: float, practised: int, today: date, chance: random.Random) -> float:
        """Days from `today` until the curve itself reaches the target, practising on as before; infinite for never."""
        waited = 0
        while self.tempo(practised) < target_bpm:
            waited += 1
            practised += chance.random() < self.often
            if waited > 2000:
                return inf
        return waited


def learner(chance: random.Random) -> Learner:
    """Any one of a wide range."""
    return Learner(
        chance.uniform(70, 120),
        chance.uniform(0.2, 0.6),
        chance.uniform(10, 60),
        chance.choice(["exponential", "exponential", "power", "steady"]),
        chance.uniform(0.01, 0.04),
        chance.uniform(0.4, 0.95),
    )
