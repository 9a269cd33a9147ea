"""Everything that a player has chosen and reached in a practice session, as one value; and what follows for a pass.

`Progress` is what judged passes move, `SessionState` all of it; `plan_of` and `music_of` say what is played next.
"""

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple, Self

from trainer.playback.click_track import SilentBars
from trainer.playback.mix import CLICK, Mix
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import MOST_COUNT_IN, Plan
from trainer.playback.share import playable_bpm, share_for_bpm
from trainer.practice.ladder import Ladder
from trainer.practice.ladder_rules import LadderRules
from trainer.practice.loop_ladders import LoopBars
from trainer.practice.methods import Building, Burst, FadingGuide
from trainer.practice.passes import Pass
from trainer.practice.verdict import Decides, Outcome, Verdict
from trainer.session.built_riff import built_riff
from trainer.session.choices import GUIDE, Choices, Method, mix_of, to_hundredth, traded
from trainer.session.music import LoadedExercise
from trainer.sounds.click_pattern import ClickPattern

BUILDS = (Method.FRONT, Method.END)


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

    def after(self, outcome: Outcome, method: Method, tempo_bpm: Fraction) -> Self:
        """The progress after a pass.

        Args:
            outcome: how it went; an unjudged one moves nothing but a burst, which tires the hand all the same.
            method: how it was practised.
            tempo_bpm: the tempo it was played at. The ladder is moved only by passes at its rung.
        """
        ladder, building, burst = self.ladder, self.building, self.burst
        if method is Method.LADDER and round(tempo_bpm) == ladder.rung.tempo_bpm:
            ladder = ladder.after(outcome)
        if method in (Method.FRONT, Method.END) and building is not None:
            building = building.after(outcome)
        if method is Method.BURST and burst is not None:
            burst = burst.after(outcome)
        row = {Outcome.CLEAN: self.row + 1, Outcome.MISSED: 0, Outcome.UNJUDGED: self.row}[outcome]
        moved = ladder.rung.tempo_bpm != self.ladder.rung.tempo_bpm
        return replace(
            self,
            ladder=ladder,
            guide=self.guide.after(outcome),
            row=0 if moved and method is Method.LADDER else row,
            building=building,
            burst=burst,
        )


@dataclass(frozen=True, slots=True)
class LastPass:
    """A pass that was played, with what its verdict can still change."""

    played: Pass
    before: Progress
    """The progress with which it was begun."""
    method: Method
    said: Outcome = Outcome.UNJUDGED
    """What the player said of it."""
    heard: Verdict | None = None
    """The verdict on its recording; None while there is none."""

    @property
    def off_the_rung(self) -> str:
        """Why it does not move the ladder, as a sentence after a space; empty where it may."""
        rung = self.before.ladder.rung.tempo_bpm
        if self.method is not Method.LADDER or round(self.played.tempo_bpm) == rung:
            return ""
        return f" It was played at {self.played.tempo_bpm:g} bpm, not at the rung's {rung}: the ladder stays."


@dataclass(frozen=True, slots=True)
class SessionState:
    """The state of a session. Replaced as a whole, so that any thread may read it."""

    loaded: LoadedExercise
    choices: Choices
    progress: Progress
    decides: Decides = Decides.KEY
    """Who decides how a pass went while the session listens, as the player chose it."""
    listening: bool = False
    bar: int = 0
    """The index of the chosen bar."""
    part: int = 0
    """The number of the chosen part among those that can be chosen."""
    pending: Outcome | None = None
    """What the player has said of the pass that is being played."""
    last: LastPass | None = None
    passes: int = 0
    """Passes played since this was loaded."""
    swap_played: int = 0
    """Passes since the guitars last traded places."""
    counted: Fraction | None = None
    """Where the pass that was counted last began, as in its report: no other pass of a sink begins there."""

    @property
    def mine(self) -> str:
        """My part."""
        return self.choices.mine

    @property
    def choosable(self) -> tuple[str, ...]:
        """What can be chosen among the parts: they, the click, and the guide where it fades."""
        return (*self.loaded.heard, *((GUIDE,) if self.choices.fading else ()))

    @property
    def chosen_part(self) -> str:
        """The part, "click" or "guide" that is chosen."""
        names = self.choosable
        return names[min(self.part, len(names) - 1)]

    @property
    def decider(self) -> Decides:
        """Who decides how a pass went now: nothing but the key while nobody listens."""
        return self.decides if self.listening else Decides.KEY

    @property
    def chosen_loop(self) -> Loop:
        """The loop as the player set it."""
        return Loop(self.choices.first, self.choices.last)

    @property
    def loop(self) -> Loop:
        """The bars of the next pass."""
        progress, method = self.progress, self.choices.method
        if method in BUILDS and progress.building is not None:
            built = progress.building.loop
            return Loop(built.first_bar - 1, built.last_bar - 1)
        if method is Method.BURST and progress.burst is not None:
            return Loop(progress.burst.bar - 1, progress.burst.bar - 1)
        rung = progress.ladder.rung
        if method is Method.LADDER and rung.bars is not None:
            return Loop(self.choices.first, min(self.choices.first + rung.bars - 1, self.choices.last))
        return self.chosen_loop

    @property
    def tempo_bpm(self) -> Fraction:
        """The tempo of the next pass, to a hundredth of a bpm."""
        if self.choices.method is Method.LADDER:
            return Fraction(self.progress.ladder.rung.tempo_bpm)
        burst = self.progress.burst
        if self.choices.method is Method.BURST and burst is not None:
            return Fraction(burst.next.tempo_bpm) if burst.next else to_hundredth(burst.target_bpm)
        return self.choices.bpm

    @property
    def share(self) -> Fraction:
        """That tempo as a share of the target."""
        return share_for_bpm(playable_bpm(self.tempo_bpm), self.loaded.target_bpm)

    @property
    def mix(self) -> Mix:
        """Who is heard in the next pass."""
        return mix_of(self.choices, self.progress.guide, self.mine)

    @property
    def apart(self) -> bool:
        """Whether a count-in parts the passes: asked for, or needed because the method changes what is played."""
        return self.choices.between or self.choices.method in (*BUILDS, Method.BURST)

    @property
    def count_in(self) -> int:
        """Bars that are counted in: through a burst's rest; none where the bar before built bars counts in itself."""
        burst = self.progress.burst
        if self.choices.method is Method.BURST and burst is not None and self.passes:
            return min(MOST_COUNT_IN, burst.rest_bars)
        building = self.progress.building
        if self.choices.method in BUILDS and building is not None and building.loop.note_before and self.clicked:
            return 0
        return max(1, self.choices.count_in) if self.apart else self.choices.count_in

    @property
    def loop_bars(self) -> LoopBars | None:
        """What the ladder of the looped bars is kept under; None where all are looped: that is the riff's own."""
        chosen = self.chosen_loop
        if chosen == self.loaded.whole:
            return None
        return LoopBars(self.loaded.digest, chosen.first + 1, chosen.last + 1)

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
        return self.loop == self.loaded.whole

    def after(self, outcome: Outcome, tempo_bpm: Fraction) -> "SessionState":
        """The state for the pass after one that went so, and was played at that tempo."""
        progress = self.progress.after(outcome, self.choices.method, tempo_bpm)
        after = replace(self, progress=progress, pending=None, passes=self.passes + 1, swap_played=self.swap_played + 1)
        every, other = self.choices.swap_every, self.loaded.other(self.mine)
        if every and other and after.swap_played >= every:
            choices = traded(self.choices, self.mine, other)
            after = replace(after, choices=choices, progress=progress.traded(), swap_played=0)
        return after


class PlayedMusic(NamedTuple):
    """What a transport plays for a state: the loaded piece, or built bars with the note over the join."""

    piece: Piece
    loop: Loop
    offset: Fraction = Fraction(0)
    """Where it begins in the loaded piece, in whole notes."""
    building: Building | None = None
    """The building that it is made of; None for the loaded piece."""


def music_of(state: SessionState) -> PlayedMusic:
    """What is played in the next pass."""
    piece, building = state.loaded.piece, state.progress.building
    if state.choices.method in BUILDS and building is not None and len(piece.riffs) == 1:
        built = built_riff(piece.riffs[0].riff, building.loop)
        played = Piece.of(state.loaded.exercise, (built.riff,))
        return PlayedMusic(played, played.whole, built.offset, building)
    return PlayedMusic(piece, state.loop)


def plan_of(state: SessionState, click: ClickPattern | None, loop: Loop) -> Plan:
    """How a transport is to play the next pass.

    Args:
        state: of the session.
        click: the pattern that the choices name; None for no click.
        loop: as `music_of` has it.
    """
    return Plan(
        loop=loop,
        share=state.share,
        passes=None,
        count_in=state.count_in,
        click=click,
        silent_bars=state.silent_bars,
        mix=state.mix,
    )


def plays_other_music(before: SessionState, after: SessionState) -> bool:
    """Whether a transport needs another timeline for `after`: bars are being built, and others than before."""
    if before.choices.method not in BUILDS and after.choices.method not in BUILDS:
        return False
    return _built(before) != _built(after)


def _built(state: SessionState) -> tuple[object, ...]:
    return state.choices.method, state.chosen_loop, state.progress.building


def building_for(loop: Loop, method: Method) -> Building | None:
    """A building of the loop's bars from its front or its end; None for the other methods."""
    return Building(loop.first + 1, loop.last + 1, from_end=method is Method.END) if method in BUILDS else None
