"""What the verdict on a pass proposes to do next: bars, tempo and click, as actions of a session."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.playback.piece import Loop
from trainer.practice.verdict import Decides, Outcome
from trainer.session.actions import SessionAction, SetClick, SetLoop, SetTempo
from trainer.session.choices import Method, to_hundredth
from trainer.session.state import SessionState

if TYPE_CHECKING:
    from trainer.session.heard_pass import JudgedPass


@dataclass(frozen=True, slots=True)
class Proposal:
    """One thing to practise next."""

    loop: Loop | None
    """The bars to loop; None: those of now."""
    tempo_bpm: Fraction
    """As the stand counts it: of the first riff that is loaded."""
    click: str | None = None
    """The name of a click pattern; None: that of now."""

    @property
    def actions(self) -> tuple[SessionAction, ...]:
        """What carries it out, in this order: a loop brings its own ladder, which the tempo then moves."""
        loop = (SetLoop(self.loop),) if self.loop is not None else ()
        click = (SetClick(self.click),) if self.click is not None else ()
        return (*loop, SetTempo(self.tempo_bpm), *click)

    @property
    def words(self) -> str:
        """In the words of a teacher: `loop bars 2-3, 99 bpm, gallop click`."""
        tempo = f"{round(self.tempo_bpm)} bpm"
        if self.loop is None:
            return f"the same at {tempo}"
        first, last = self.loop.first + 1, self.loop.last + 1
        bars = f"bar {first}" if first == last else f"bars {first}-{last}"
        return ", ".join((f"loop {bars}", tempo, *((f"{self.click} click",) if self.click else ())))

    def is_done(self, state: SessionState) -> bool:
        """Whether the session is set so already."""
        same_loop = self.loop is None or self.loop == state.chosen_loop
        same_click = self.click is None or self.click == state.choices.click
        return same_loop and same_click and round(state.tempo_bpm) == round(self.tempo_bpm)


def proposal_of(heard: "JudgedPass", state: SessionState, clicks: Sequence[str]) -> Proposal | None:
    """What a judged pass proposes; None for nothing.

    After a clean pass on the ladder nothing is proposed: the ladder says when the next tempo is earned.

    Args:
        heard: the pass.
        state: of the session, on whose music it was played.
        clicks: the names of the click patterns there are.
    """
    advice, passage = heard.judgement.action, heard.of.passage
    piece = state.loaded.piece
    if advice is None or passage.piece is not piece:
        return None
    share = Fraction(advice.tempo_bpm) / piece.target_bpm(passage.loop.first)
    tempo = to_hundredth(share * state.loaded.target_bpm)
    if heard.judgement.verdict.outcome is Outcome.CLEAN:
        found = None if state.choices.method is Method.LADDER else Proposal(None, tempo)
    else:
        bars = len(piece.bars)
        first = min(max(advice.first_bar, 1), bars)
        loop = Loop(first - 1, min(max(advice.last_bar, first), bars) - 1)
        found = Proposal(loop, tempo, advice.click if advice.click in clicks else None)
    return None if found is None or found.is_done(state) else found


def word_is_wanted(state: SessionState, *, running: bool) -> bool:
    """Whether Enter is for judging: the key has a word, and it plays or the last pass has got no word yet."""
    if state.decider is Decides.TAKE:
        return False
    return running or (state.last is not None and state.last.said is Outcome.UNJUDGED)
