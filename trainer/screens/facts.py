"""What the state panel says of a state: tempo and target, ladder, loop, click, who is heard, what comes next."""

from trainer.music.printable import printable
from trainer.playback.mix import CLICK
from trainer.practice.ladder import Word as LadderWord
from trainer.practice.ladder import sentence
from trainer.practice.verdict import Outcome
from trainer.screens.actions import action
from trainer.screens.drawing import ink
from trainer.screens.drawing.panel import PanelFacts, PanelWord, Words
from trainer.screens.drawing.pen import Pen
from trainer.session.choices import GUIDE, Method
from trainer.session.playhead import Playhead
from trainer.session.state import BUILDS, SessionState

MOST_RUNGS, FEW_RUNGS = 18, 8
"""Rungs that are drawn one by one; more are drawn as a share of so many."""


def facts_for(
    state: SessionState, head: Playhead, chosen: str, pen: Pen, *, said: str = "", narrow: bool = False
) -> PanelFacts:
    """The panel's facts.

    Args:
        state: the state of the stand.
        head: where the sound is.
        chosen: the part (or "click", or "guide") that is chosen.
        pen: the characters.
        said: what to say instead of the ladder's sentence.
        narrow: whether there is little room.
    """
    bar = f"-{state.count_in - head.count_in_bar + 1}" if head.counting_in else str(head.riff_bar + 1)
    return PanelFacts(
        bar,
        str(head.count),
        (
            _tempo(state, head, pen),
            *_way(state, pen, FEW_RUNGS if narrow else MOST_RUNGS),
            _loop(state),
            *_passes(state),
            *_click(state),
        ),
        tuple(_part(state, name, chosen, pen) for name in state.choosable),
        (PanelWord(said or _sentence(state), ink.PLAIN),),
        tuple(_part(state, name, chosen, pen, short=True) for name in state.choosable),
    )


def playing_words(state: SessionState, pen: Pen) -> str:
    """What is played, as the head of every screen shows it: `♪ Low road 110 · pass 4`."""
    name = state.loaded.riff or state.loaded.exercise.title
    return f"{pen.heard} {printable(name)} {float(state.tempo_bpm):g} {pen.dot} pass {state.passes + 1}"


def _tempo(state: SessionState, head: Playhead, pen: Pen) -> Words:
    target = float(state.loaded.target_bpm)
    bpm = float(state.tempo_bpm)
    words = [
        PanelWord(f"{bpm:g}", ink.STRONG, _do("tempo")),
        PanelWord(f" {pen.arrow} {target:g} bpm", ink.PLAIN, _do("tempo")),
        PanelWord(f"  {100 * bpm / target:.0f} %", ink.QUIET),
    ]
    here = round(head.tempo_bpm)
    if head.playing and abs(here - bpm) > 1 and len(state.loaded.piece.riffs) == 1:
        words.append(PanelWord(f"  here {here}", ink.QUIET))
    return tuple(words)


def _way(state: SessionState, pen: Pen, rungs: int) -> tuple[Words, ...]:
    way, progress = state.choices.method, state.progress
    if way is Method.LADDER:
        return _ladder(state, pen, rungs)
    if way in BUILDS and progress.building is not None:
        building = progress.building
        total = building.last_bar - building.first_bar + 1
        return ((PanelWord(way, ink.LABEL), PanelWord(f" {building.bars} of {total} bars", ink.PLAIN)),)
    if way is Method.BURST and progress.burst is not None:
        burst = progress.burst
        return (
            (PanelWord("burst ", ink.LABEL), PanelWord(f"bar {burst.bar}, {burst.played} of {burst.most}", ink.PLAIN)),
            (PanelWord("clean ", ink.LABEL), PanelWord(f"{burst.clean} of {burst.wanted} in a row", ink.PLAIN)),
        )
    return ((PanelWord("clean ", ink.LABEL, _do("ladder")), PanelWord(f"{progress.row} in a row", ink.PLAIN)),)


def _ladder(state: SessionState, pen: Pen, most: int) -> tuple[Words, ...]:
    ladder = state.progress.ladder
    rungs = ladder.rules.rungs()
    at = sum(rung <= ladder.tempo_bpm * 1.0001 for rung in rungs)
    shown = min(len(rungs), most)
    full = round(at * shown / len(rungs))
    dots = pen.full * ladder.clean + pen.empty * max(0, ladder.rules.passes - ladder.clean)
    return (
        (
            PanelWord("rung ", ink.LABEL, _do("plain")),
            PanelWord(f"{at} of {len(rungs)} ", ink.PLAIN),
            PanelWord(pen.full * full, ink.STRONG),
            PanelWord(pen.empty * (shown - full), ink.QUIET),
        ),
        (
            PanelWord("clean ", ink.LABEL),
            PanelWord(f"{ladder.clean} of {ladder.rules.passes} ", ink.PLAIN),
            PanelWord(dots, ink.STRONG),
        ),
    )


def _loop(state: SessionState) -> Words:
    loop, bars = state.loop, len(state.loaded.piece.bars)
    numbers = f"{loop.first + 1}" if loop.bars == 1 else f"{loop.first + 1}-{loop.last + 1}"
    name = "bar " if loop.bars == 1 else "bars "
    return (PanelWord(name, ink.LABEL, _do("bars")), PanelWord(f"{numbers} of {bars}", ink.PLAIN, _do("bars")))


def _passes(state: SessionState) -> tuple[Words, ...]:
    after = state.after(state.pending or Outcome.UNJUDGED, state.tempo_bpm)
    coming = []
    if round(after.tempo_bpm, 1) != round(state.tempo_bpm, 1):
        coming.append(f"{float(after.tempo_bpm):g} bpm")
    if after.loop != state.loop:
        coming.append(f"bars {after.loop.first + 1}-{after.loop.last + 1}")
    if after.mine != state.mine:
        coming.append(f"{after.loaded.letters[after.mine]} is mine")
    said = {Outcome.CLEAN: "clean, ", Outcome.MISSED: "missed, "}.get(state.pending or Outcome.UNJUDGED, "")
    return (
        (PanelWord("next ", ink.LABEL), PanelWord(said + (", ".join(coming) or "as this one"), ink.PLAIN)),
        (PanelWord("pass ", ink.LABEL), PanelWord(f"{state.passes + 1}", ink.PLAIN)),
    )


def _click(state: SessionState) -> tuple[Words, ...]:
    choices = state.choices
    silent: tuple[Words, ...] = ()
    if state.silent_bars is not None:
        text = f"{state.silent_bars.silent} of {_cycle(state)} bars"
        silent = ((PanelWord("silent ", ink.LABEL, _do("quiet")), PanelWord(text, ink.PLAIN, _do("quiet"))),)
    bars = choices.count_in
    text = ("each pass " if state.apart else "") + (f"{bars} bar{'' if bars == 1 else 's'}" if bars else "none")
    return ((PanelWord("count-in ", ink.LABEL, _do("count_in")), PanelWord(text, ink.PLAIN, _do("count_in"))), *silent)


def _cycle(state: SessionState) -> int:
    silent = state.silent_bars
    return silent.heard + silent.silent if silent else 0


def _part(state: SessionState, name: str, chosen: str, pen: Pen, *, short: bool = False) -> Words:
    """A part, the click or the guide in words; short: letters alone stand for the parts that are not chosen."""
    call = f"choose({state.choosable.index(name)})"
    before = PanelWord(pen.chosen if name == chosen else " ", ink.STRONG)
    if name == GUIDE:
        guide = state.progress.guide
        level = "gone" if guide.gain == 0 else f"{guide.level_db + state.choices.guide_db:+g} dB"
        return (before, PanelWord("guide ", ink.LABEL, call), PanelWord(level, ink.PLAIN, call))
    heard = state.mix.heard(name)
    level_db = dict(state.choices.levels).get(name, 0.0)
    letter = "" if name == CLICK else state.loaded.letters[name]
    words = [before]
    if letter:
        words.append(PanelWord(f"{letter} ", letter, call))
    if not (short and letter and name != chosen):
        words.append(PanelWord(name, ink.PLAIN if heard else ink.QUIET, call))
    if name == CLICK:
        words.append(PanelWord(f" {state.choices.click or 'none'}", ink.PLAIN, _do("click")))
    if name == state.mine:
        words.append(PanelWord(f"{_gap(words)}mine", ink.STRONG, call))
    sounds = pen.heard if heard else "silent"
    words.append(PanelWord(f"{_gap(words)}{sounds}", ink.MARK if heard else ink.QUIET, call))
    if level_db:
        words.append(PanelWord(f" {level_db:+g} dB", ink.QUIET, call))
    return tuple(words)


def _do(name: str) -> str:
    """The call of the action with this name in the screens' table."""
    return action(name, "stand").call


def _gap(words: list[PanelWord]) -> str:
    return "" if words[-1].text.endswith(" ") else " "


def _sentence(state: SessionState) -> str:
    ladder = state.progress.ladder
    if state.choices.method is not Method.LADDER:
        return ""
    fresh = ladder.word is LadderWord.STAY and ladder.turn == 0
    return "" if fresh else sentence(ladder)
