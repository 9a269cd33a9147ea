"""How far the player has come on one loop: ladder, guide, built bars, burst, and clean passes in a row."""

from dataclasses import dataclass, replace
from typing import Self

from trainer.practice.building import Building
from trainer.practice.burst import Burst
from trainer.practice.fading import FadingGuide
from trainer.practice.ladder import Ladder
from trainer.practice.ladder_rules import LadderRules
from trainer.practice.verdict import Outcome
from trainer.screens.choices import Way


@dataclass(frozen=True, slots=True)
class Progress:
    """Everything that a judged pass moves."""

    ladder: Ladder
    guide: FadingGuide
    row: int = 0
    """Clean passes in a row at the tempo that is played."""
    building: Building | None = None
    burst: Burst | None = None
    other: Ladder | None = None
    """The ladder of the guitar that trades places with mine; None where there is none."""

    def traded(self) -> Self:
        """The progress when the guitars have traded places: each has a ladder of its own, and the guide begins anew."""
        if self.other is None:
            return self
        return replace(self, ladder=self.other, other=self.ladder, guide=FadingGuide(), row=0)

    def on(self, rules: LadderRules) -> Self:
        """The progress where other rules have been written: the ladders go on from where they are."""
        if rules == self.ladder.rules:
            return self
        other = None if self.other is None else replace(self.other, rules=rules)
        return replace(self, ladder=replace(self.ladder, rules=rules), other=other)

    def after(self, outcome: Outcome, way: Way, tempo_bpm: float) -> Self:
        """The progress after a pass.

        Args:
            outcome: how it went; an unjudged one moves nothing but a burst, which tires the hand all the same.
            way: how it was practised.
            tempo_bpm: the tempo it was played at. The ladder is moved only by passes at its rung.
        """
        ladder, building, burst = self.ladder, self.building, self.burst
        if way is Way.LADDER and round(tempo_bpm) == ladder.rung.tempo_bpm:
            ladder = ladder.after(outcome)
        if way in (Way.FRONT, Way.END) and building is not None:
            building = building.after(outcome)
        if way is Way.BURST and burst is not None:
            burst = burst.after(outcome)
        row = {Outcome.CLEAN: self.row + 1, Outcome.MISSED: 0, Outcome.UNJUDGED: self.row}[outcome]
        moved = ladder.rung.tempo_bpm != self.ladder.rung.tempo_bpm
        return replace(
            self,
            ladder=ladder,
            guide=self.guide.after(outcome),
            row=0 if moved and way is Way.LADDER else row,
            building=building,
            burst=burst,
        )
