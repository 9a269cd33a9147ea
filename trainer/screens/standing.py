"""Everything that a stand's player has chosen and reached, as one value; and what follows from it for the next pass."""

from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.playback.click_track import SilentBars
from trainer.playback.mix import CLICK, Mix
from trainer.playback.piece import Loop
from trainer.playback.plan import MOST_COUNT_IN
from trainer.practice.building import Building
from trainer.practice.loop_ladders import LoopBars
from trainer.practice.passes import Pass
from trainer.practice.verdict import Outcome, Verdict
from trainer.screens.choices import Choices, Way, share_of
from trainer.screens.mixing import mix_of, traded
from trainer.screens.progress import Progress
from trainer.screens.stood import Stood

BUILDS = (Way.FRONT, Way.END)


@dataclass(frozen=True, slots=True)
class Done:
    """The last pass that was played, so that its verdict can still be given."""

    played: Pass
    before: Progress
    way: Way
    said: Outcome = Outcome.UNJUDGED
    """What the player said of it."""
    heard: Verdict | None = None
    """What its take says; None while there is none."""


@dataclass(frozen=True, slots=True)
class Standing:
    """The state of a stand. Replaced as a whole, so that any thread may read it."""

    stood: Stood
    choices: Choices
    progress: Progress
    pending: Outcome | None = None
    """What the player has said of the pass that is being played."""
    last: Done | None = None
    passes: int = 0
    """Passes played since this was opened."""
    swap_played: int = 0
    """Passes since the guitars last traded places."""
    counted: Fraction | None = None
    """Where the pass that was counted last began, as in its report: no other pass of a sink begins there."""

    @property
    def mine(self) -> str:
        """My part."""
        return self.choices.mine

    @property
    def chosen_loop(self) -> Loop:
        """The loop as the player set it."""
        return Loop(self.choices.first, self.choices.last)

    @property
    def loop(self) -> Loop:
        """The bars of the next pass."""
        progress, way = self.progress, self.choices.way
        if way in BUILDS and progress.building is not None:
            built = progress.building.loop
            return Loop(built.first_bar - 1, built.last_bar - 1)
        if way is Way.BURST and progress.burst is not None:
            return Loop(progress.burst.bar - 1, progress.burst.bar - 1)
        rung = progress.ladder.rung
        if way is Way.LADDER and rung.bars is not None:
            return Loop(self.choices.first, min(self.choices.first + rung.bars - 1, self.choices.last))
        return self.chosen_loop

    @property
    def tempo_bpm(self) -> float:
        """The tempo of the next pass."""
        if self.choices.way is Way.LADDER:
            return float(self.progress.ladder.rung.tempo_bpm)
        burst = self.progress.burst
        if self.choices.way is Way.BURST and burst is not None:
            return float(burst.next.tempo_bpm) if burst.next else burst.target_bpm
        return self.choices.bpm

    @property
    def share(self) -> Fraction:
        """That tempo as a share of the target."""
        return share_of(self.tempo_bpm, self.stood.target_bpm)

    @property
    def mix(self) -> Mix:
        """Who is heard in the next pass."""
        return mix_of(self.choices, self.progress.guide, self.mine)

    @property
    def apart(self) -> bool:
        """Whether passes are parted by a count-in: asked for, or needed because the way changes what is played."""
        return self.choices.between or self.choices.way in (*BUILDS, Way.BURST)

    @property
    def count_in(self) -> int:
        """Bars that are counted in: through a burst's rest; none where the bar before built bars counts in itself."""
        burst = self.progress.burst
        if self.choices.way is Way.BURST and burst is not None and self.passes:
            return min(MOST_COUNT_IN, burst.rest_bars)
        building = self.progress.building
        if self.choices.way in BUILDS and building is not None and building.loop.note_before and self.clicked:
            return 0
        return max(1, self.choices.count_in) if self.apart else self.choices.count_in

    @property
    def loop_bars(self) -> LoopBars | None:
        """What the ladder of the looped bars is kept under; None where all are looped: that is the riff's own."""
        chosen = self.chosen_loop
        if chosen == self.stood.whole:
            return None
        return LoopBars(self.stood.digest, chosen.first + 1, chosen.last + 1)

    @property
    def clicked(self) -> str:
        """The name of the click pattern that is heard; empty for none."""
        return self.choices.click if self.mix.heard(CLICK) else ""

    @property
    def silent_bars(self) -> SilentBars | None:
        """The silent bars; None where the click never rests."""
        try:
            return SilentBars.parse(self.choices.silent_bars)
        except ValueError:
            return None

    @property
    def whole(self) -> bool:
        """Whether the loop is all of the piece."""
        return self.loop == self.stood.whole

    def after(self, outcome: Outcome, tempo_bpm: float) -> "Standing":
        """The state for the pass after one that went so."""
        progress = self.progress.after(outcome, self.choices.way, tempo_bpm)
        after = replace(self, progress=progress, pending=None, passes=self.passes + 1, swap_played=self.swap_played + 1)
        every, other = self.choices.swap_every, self.stood.other(self.mine)
        if every and other and after.swap_played >= every:
            choices = traded(self.choices, self.mine, other)
            after = replace(after, choices=choices, progress=progress.traded(), swap_played=0)
        return after


def building_for(loop: Loop, way: Way) -> Building | None:
    """A building of the loop's bars from its front or its end; None for the other ways."""
    return Building(loop.first + 1, loop.last + 1, from_end=way is Way.END) if way in BUILDS else None
