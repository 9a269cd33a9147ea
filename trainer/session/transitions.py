"""What an action changes in a session's state: pure functions from a state to a state, and what to answer."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from trainer.playback.piece import Loop
from trainer.playback.plan import MOST_COUNT_IN
from trainer.playback.share import playable_bpm
from trainer.practice.cautions import Where
from trainer.practice.methods import Burst
from trainer.practice.verdict import Decides
from trainer.session.actions import (
    Begin,
    ChangeLevel,
    ChangeTempo,
    ChooseBar,
    ChoosePart,
    ChoosePartBy,
    Finish,
    FromTheTop,
    Hear,
    HearAll,
    HearOnly,
    HearOthers,
    JudgePass,
    LoopFrom,
    LoopTo,
    MoveLoop,
    NextClick,
    SessionAction,
    SetClick,
    SetCountIn,
    SetDecides,
    SetLoop,
    SetSilentBars,
    SetTempo,
    SetView,
    ShowPanes,
    Start,
    StartStop,
    Stop,
    SwapGuitars,
    TakePart,
    ToggleCountInBetween,
    ToggleGuide,
    ToggleQuality,
    ToggleSwapping,
    UseMethod,
)  # fmt: skip
from trainer.session.choices import GUIDE, Choices, Method, View, levelled, only, to_hundredth, toggled, traded
from trainer.session.events import Reply
from trainer.session.loop_moves import MOVES, end_at, start_at
from trainer.session.state import BUILDS, SessionState, building_for

COUNT_INS = (1, 2, 0)
SILENT_BARS = ("", "2:2", "4:4", "2:6")
"""House rule: from none to a click that is heard a quarter of the time."""
LOUD_DB = 6.0
"""From this level on, the caution about hearing is shown."""
WHO = {
    Decides.KEY: "You judge; the recording is only measured.",
    Decides.TAKE: "The recording judges.",
    Decides.BOTH: "Both judge: a pass is clean when you and the recording say so.",
}
METHODS = {
    Method.PLAIN: "The loop as it is, at the tempo you set.",
    Method.LADDER: "The ladder: Enter says clean, Backspace missed.",
    Method.FRONT: "Building from the front: each clean pass adds a bar.",
    Method.END: "Building from the end: each clean pass adds a bar.",
    Method.BURST: "Burst on bar {bar} at {tempo:g} bpm: a little faster than what is clean, then rest.",
}
ONE_GUITAR = Reply("This riff has one guitar only: there is nobody to swap with.", refused=True)

Kind = TypeVar("Kind")
Next = tuple[SessionState, Reply]


def act(state: SessionState, action: SessionAction, clicks: Sequence[str] = ()) -> Next:  # noqa: PLR0911, PLR0912, PLR0915
    """The state after an action, and the answer.

    Ladders are not looked up here: whoever lets the loop or my part change reads theirs from the record afterwards.
    What only plays (start, stop, from the top, judge) changes nothing here.

    Args:
        state: before it.
        action: what the player does.
        clicks: the names of the click patterns there are.
    """
    choices, bars = state.choices, len(state.loaded.piece.bars)
    match action:
        case SetTempo(bpm):
            return _at_tempo(state, bpm), Reply()
        case ChangeTempo(by):
            return _at_tempo(state, state.tempo_bpm + by), Reply()
        case SetLoop(loop):
            return replace(_looped(state, loop), bar=loop.first), Reply()
        case MoveLoop(move):
            loop = MOVES[move](state.chosen_loop, bars)
            return replace(_looped(state, loop), bar=loop.first), Reply()
        case LoopFrom(bar):
            return _looped(state, start_at(state.chosen_loop, state.bar if bar is None else bar, bars)), Reply()
        case LoopTo(bar):
            return _looped(state, end_at(state.chosen_loop, state.bar if bar is None else bar, bars)), Reply()
        case ChooseBar(bar, by):
            return replace(state, bar=((state.bar if bar is None else bar) + by) % bars), Reply()
        case UseMethod(method):
            return _by_method(state, method)
        case Begin():
            return _begun(state, action), Reply()
        case ChoosePart(index):
            before = _heard_or_not(state, state.chosen_part) if index == state.part else (state, Reply())
            return replace(before[0], part=index), before[1]
        case ChoosePartBy(by):
            names = len(state.choosable)
            return replace(state, part=(min(state.part, names - 1) + by) % names), Reply()
        case Hear(part):
            return _heard_or_not(state, part or state.chosen_part)
        case HearOnly(part):
            part = part or state.chosen_part
            if part not in state.loaded.heard:
                return state, Reply()
            return _chosen(state, only(choices, part, state.loaded.heard))
        case HearAll():
            return _chosen(state, replace(choices, unheard=()))
        case HearOthers():
            return _chosen(state, replace(choices, unheard=(state.mine,)))
        case ChangeLevel(by_db, part):
            louder = levelled(choices, part or state.chosen_part, by_db)
            loud = by_db > 0 and any(level >= LOUD_DB for _, level in louder.levels)
            return replace(state, choices=louder), Reply(caution=Where.LEVEL if loud else None)
        case TakePart(part):
            part = part or state.chosen_part
            if part not in state.loaded.parts:
                return state, Reply("Choose a part with Tab first: the click and the guide are nobody's.", refused=True)
            return _chosen(state, replace(choices, mine=part))
        case SwapGuitars():
            other = state.loaded.other(state.mine)
            return _chosen(state, traded(choices, state.mine, other)) if other else (state, ONE_GUITAR)
        case ToggleSwapping():
            if not state.loaded.other(state.mine):
                return state, ONE_GUITAR
            every = 0 if choices.swap_every else 1
            said = "The guitars trade places after every pass." if every else "The guitars stay where they are."
            return _chosen(state, replace(choices, swap_every=every), said)
        case ToggleGuide():
            return _guided(state)
        case SetClick(pattern):
            return _chosen(state, replace(choices, click=pattern))
        case NextClick(by):
            return _chosen(state, replace(choices, click=next_of(("", *clicks), choices.click, by)))
        case SetSilentBars(text):
            text = next_of(SILENT_BARS, choices.silent_bars) if text is None else text
            return _chosen(state, replace(choices, silent_bars=text))
        case SetCountIn(count):
            count = next_of(COUNT_INS, choices.count_in) if count is None else min(max(count, 0), MOST_COUNT_IN)
            return _chosen(state, replace(choices, count_in=count))
        case ToggleCountInBetween():
            between = not choices.between
            said = "Every pass is counted in." if between else "Passes follow each other straight on."
            return _chosen(state, replace(choices, between=between), said)
        case SetDecides(decides):
            decides = next_of(tuple(Decides), state.decides) if decides is None else decides
            later = "" if state.listening else " It counts once listening is on (L)."
            return replace(state, decides=decides), Reply(WHO[decides] + later)
        case SetView(view):
            return _chosen(state, replace(choices, view=next_of(tuple(View), choices.view) if view is None else view))
        case ToggleQuality():
            return _chosen(state, replace(choices, quality=not choices.quality))
        case ShowPanes(neck, prose, explain):
            panes = replace(
                choices, neck=neck or choices.neck, prose=prose or choices.prose, explain=explain or choices.explain
            )
            return _chosen(state, panes)
        case StartStop() | Start() | Stop() | Finish() | FromTheTop() | JudgePass():
            return state, Reply()


def next_of(values: tuple[Kind, ...], now: Kind, step: int = 1) -> Kind:
    """The value that comes so many places after `now`; the first one where `now` is none of them."""
    return values[(values.index(now) + step) % len(values)] if now in values else values[0]


def _chosen(state: SessionState, choices: Choices, said: str | None = None) -> Next:
    return replace(state, choices=choices), Reply(said)


def _at_tempo(state: SessionState, bpm: Fraction) -> SessionState:
    """At a tempo from now on; what the tempo comes from follows it."""
    bpm = to_hundredth(playable_bpm(bpm))
    progress = replace(state.progress, row=0)
    if state.choices.method is Method.LADDER:
        progress = replace(progress, ladder=progress.ladder.at(float(bpm)))
    if progress.burst is not None and state.choices.method is Method.BURST:
        target = float(bpm) / (1 + progress.burst.over / 100)
        progress = replace(progress, burst=replace(progress.burst, target_bpm=target))
    return replace(state, progress=progress, choices=replace(state.choices, bpm=bpm))


def _looped(state: SessionState, loop: Loop) -> SessionState:
    """With other bars looped; what was built of the bars before is over."""
    choices = replace(state.choices, first=loop.first, last=loop.last)
    progress = replace(state.progress, building=building_for(loop, choices.method), row=0)
    return replace(state, choices=choices, progress=progress, last=None)


def _by_method(state: SessionState, method: Method) -> Next:
    """Practised by another method; a burst takes the chosen bar, a little faster than what is clean today."""
    if method in BUILDS and not state.loaded.riff:
        return state, Reply("Building goes through one riff: leave the form with f first.", refused=True)
    choices, bar = replace(state.choices, method=method), state.bar
    if method is Method.PLAIN and state.choices.method is not Method.BURST:
        choices = replace(choices, bpm=state.tempo_bpm)
    burst = Burst(bar + 1, _burst_from(state)) if method is Method.BURST else None
    progress = replace(state.progress, building=building_for(state.chosen_loop, method), burst=burst, row=0)
    after = replace(state, choices=choices, progress=progress, passes=0, last=None)
    return after, Reply(METHODS[method].format(bar=bar + 1, tempo=float(after.tempo_bpm)))


def _burst_from(state: SessionState) -> float:
    """The tempo in bpm that a burst exceeds: the rung, or a tempo that was just clean; at most the bar's target.

    A sudden rise is what hurts hands most often (`practice.cautions`).
    """
    clean = state.progress.ladder.tempo_bpm
    if state.progress.row:
        clean = max(clean, float(state.tempo_bpm))
    return min(clean, float(state.loaded.piece.target_bpm(state.bar)))


def _begun(state: SessionState, begin: Begin) -> SessionState:
    """As a plan asks for it."""
    state, _ = _by_method(state, begin.method)
    whole, bar = state.loaded.whole, begin.bar
    last = min(max(begin.last_bar or 0, bar or 0), whole.last + 1)
    loop = Loop(bar - 1, last - 1) if bar is not None and 0 < bar <= whole.last + 1 else whole
    state = replace(_looped(state, loop), bar=loop.first)
    if begin.tempo_bpm and begin.method is Method.PLAIN:
        state = _at_tempo(state, Fraction(begin.tempo_bpm))
    return state


def _heard_or_not(state: SessionState, part: str) -> Next:
    return _guided(state) if part == GUIDE else _chosen(state, toggled(state.choices, part))


def _guided(state: SessionState) -> Next:
    fading = not state.choices.fading
    said = "My part is played along, softer with every clean pass." if fading else "The guide is off."
    return _chosen(state, replace(state.choices, fading=fading), said)
