"""Simulated players of known ability: what tests of ladder and forecast measure against."""

import random
from dataclasses import dataclass
from math import exp, log

from trainer.practice.ladder_rules import LadderRules
from trainer.practice.verdict import Outcome


def settles_at(rules: LadderRules) -> float | None:
    """The chance of a clean pass where the staircase comes to rest (`ladder_rules`); None when a miss costs nothing."""
    return (rules.miss / (rules.miss + 1)) ** (1 / rules.passes) if rules.miss else None


@dataclass(frozen=True, slots=True)
class SimulatedPlayer:
    """Plays a pass clean with a probability that falls with the tempo, logistic in its logarithm."""

    ability_bpm: float
    """The tempo at which every second pass is clean."""
    width: float = 0.05
    """How gently it falls, as a share of the tempo: at 1 width over the ability 27 % are clean, at 1 under it 73 %."""

    def clean_probability(self, tempo_bpm: float) -> float:
        return 1 / (1 + exp((log(tempo_bpm) - log(self.ability_bpm)) / self.width))

    def tempo_for(self, probability: float) -> float:
        """The tempo at which a pass is clean with this probability."""
        return self.ability_bpm * exp(self.width * log((1 - probability) / probability))

    def plays(self, tempo_bpm: float, chance: random.Random) -> Outcome:
        return Outcome.CLEAN if chance.random() < self.clean_probability(tempo_bpm) else Outcome.MISSED
