"""What the state panel says of a standing: tempo and target, ladder, loop, click, who is heard, what comes next."""

from trainer.playback.mix import CLICK
from trainer.practice.advice import sentence
from trainer.practice.ladder import Word as LadderWord
from trainer.practice.verdict import Outcome
from trainer.screens.choices import Way
from trainer.screens.drawing import ink
from trainer.screens.drawing.panel import PanelFacts, Word, Words
from trainer.screens.drawing.pen import Pen
from trainer.screens.mixing import GUIDE
from trainer.screens.playhead import Playhead
from trainer.screens.standing import BUILDS, Standing

MOST_RUNGS, FEW_RUNGS = 18, 8
"""Rungs that are drawn one by one; more are drawn as a share of so many."""


def facts_for(
    standing: Standing, head: Playhead, chosen: str, pen: Pen, *, said: str = "", narrow: bool = False
) -> PanelFacts:
    """The panel's facts.

    Args:
        standing: the state of the stand.
        head: where the sound is.
        chosen: the part (or "click", or "guide") that is chosen.
        pen: the characters.
        said: what to say instead of the ladder's sentence.
        narrow: whether there is little room.
    """
    bar = f"-{standing.count_in - head.count_in_bar + 1}" if head.counting_in else str(head.riff_bar + 1)
    return PanelFacts(
        bar,
        str(head.count),
        (
            _tempo(standing, head, pen),
            *_way(standing, pen, FEW_RUNGS if narrow else MOST_RUNGS),
            _loop(standing),
            *_passes(standing),
            *_click(standing),
        ),
        tuple(_part(standing, name, chosen, pen) for name in choosable(standing)),
        (Word(said or _sentence(standing), ink.PLAIN),),
        tuple(_part(standing, name, chosen, pen, short=True) for name in choosable(standing)),
    )


def choosable(standing: Standing) -> tuple[str, ...]:
    """What can be chosen among the parts: they, the click, and the guide where it fades."""
    return (*standing.stood.heard, *((GUIDE,) if standing.choices.fading else ()))


def _tempo(standing: Standing, head: Playhead, pen: Pen) -> Words:
    target = float(standing.stood.target_bpm)
    bpm = standing.tempo_bpm
    words = [
        Word(f"{bpm:g}", ink.STRONG, "ask_tempo"),
        Word(f" {pen.arrow} {target:g} bpm", ink.PLAIN, "ask_tempo"),
        Word(f"  {100 * bpm / target:.0f} %", ink.QUIET),
    ]
    here = round(head.tempo_bpm)
    if head.playing and abs(here - bpm) > 1 and len(standing.stood.piece.riffs) == 1:
        words.append(Word(f"  here {here}", ink.QUIET))
    return tuple(words)


def _way(standing: Standing, pen: Pen, rungs: int) -> tuple[Words, ...]:
    way, progress = standing.choices.way, standing.progress
    if way is Way.LADDER:
        return _ladder(standing, pen, rungs)
    if way in BUILDS and progress.building is not None:
        building = progress.building
        total = building.last_bar - building.first_bar + 1
        return ((Word(way, ink.LABEL), Word(f" {building.bars} of {total} bars", ink.PLAIN)),)
    if way is Way.BURST and progress.burst is not None:
        burst = progress.burst
        return (
            (Word("burst ", ink.LABEL), Word(f"bar {burst.bar}, {burst.played} of {burst.most}", ink.PLAIN)),
            (Word("clean ", ink.LABEL), Word(f"{burst.clean} of {burst.wanted} in a row", ink.PLAIN)),
        )
    return ((Word("clean ", ink.LABEL, "way('ladder')"), Word(f"{progress.row} in a row", ink.PLAIN)),)


def _ladder(standing: Standing, pen: Pen, most: int) -> tuple[Words, ...]:
    ladder = standing.progress.ladder
    rungs = ladder.rules.rungs()
    at = sum(rung <= ladder.tempo_bpm * 1.0001 for rung in rungs)
    shown = min(len(rungs), most)
    full = round(at * shown / len(rungs))
    dots = pen.full * ladder.clean + pen.empty * max(0, ladder.rules.passes - ladder.clean)
    return (
        (
            Word("rung ", ink.LABEL, "way('')"),
            Word(f"{at} of {len(rungs)} ", ink.PLAIN),
            Word(pen.full * full, ink.STRONG),
            Word(pen.empty * (shown - full), ink.QUIET),
        ),
        (
            Word("clean ", ink.LABEL),
            Word(f"{ladder.clean} of {ladder.rules.passes} ", ink.PLAIN),
            Word(dots, ink.STRONG),
        ),
    )


def _loop(standing: Standing) -> Words:
    loop, bars = standing.loop, len(standing.stood.piece.bars)
    numbers = f"{loop.first + 1}" if loop.bars == 1 else f"{loop.first + 1}-{loop.last + 1}"
    name = "bar " if loop.bars == 1 else "bars "
    return (Word(name, ink.LABEL, "ask_bars"), Word(f"{numbers} of {bars}", ink.PLAIN, "ask_bars"))


def _passes(standing: Standing) -> tuple[Words, ...]:
    after = standing.after(standing.pending or Outcome.UNJUDGED, standing.tempo_bpm)
    coming = []
    if round(after.tempo_bpm, 1) != round(standing.tempo_bpm, 1):
        coming.append(f"{after.tempo_bpm:g} bpm")
    if after.loop != standing.loop:
        coming.append(f"bars {after.loop.first + 1}-{after.loop.last + 1}")
    if after.mine != standing.mine:
        coming.append(f"{after.stood.letters[after.mine]} is mine")
    said = {Outcome.CLEAN: "clean, ", Outcome.MISSED: "missed, "}.get(standing.pending or Outcome.UNJUDGED, "")
    return (
        (Word("next ", ink.LABEL), Word(said + (", ".join(coming) or "as this one"), ink.PLAIN)),
        (Word("pass ", ink.LABEL), Word(f"{standing.passes + 1}", ink.PLAIN)),
    )


def _click(standing: Standing) -> tuple[Words, ...]:
    choices = standing.choices
    silent: tuple[Words, ...] = ()
    if standing.silent_bars is not None:
        text = f"{standing.silent_bars.silent} of {_cycle(standing)} bars"
        silent = ((Word("silent ", ink.LABEL, "next_silent_bars"), Word(text, ink.PLAIN, "next_silent_bars")),)
    bars = choices.count_in
    text = ("each pass " if standing.apart else "") + (f"{bars} bar{'' if bars == 1 else 's'}" if bars else "none")
    return ((Word("count-in ", ink.LABEL, "next_count_in"), Word(text, ink.PLAIN, "next_count_in")), *silent)


def _cycle(standing: Standing) -> int:
    silent = standing.silent_bars
    return silent.heard + silent.silent if silent else 0


def _part(standing: Standing, name: str, chosen: str, pen: Pen, *, short: bool = False) -> Words:
    """A part, the click or the guide in words; short: letters alone stand for the parts that are not chosen."""
    call = f"choose({choosable(standing).index(name)})"
    before = Word(pen.chosen if name == chosen else " ", ink.STRONG)
    if name == GUIDE:
        guide = standing.progress.guide
        level = "gone" if guide.gain == 0 else f"{guide.level_db + standing.choices.guide_db:+g} dB"
        return (before, Word("guide ", ink.LABEL, call), Word(level, ink.PLAIN, call))
    heard = standing.mix.heard(name)
    level_db = dict(standing.choices.levels).get(name, 0.0)
    letter = "" if name == CLICK else standing.stood.letters[name]
    words = [before]
    if letter:
        words.append(Word(f"{letter} ", letter, call))
    if not (short and letter and name != chosen):
        words.append(Word(name, ink.PLAIN if heard else ink.QUIET, call))
    if name == CLICK:
        words.append(Word(f" {standing.choices.click or 'none'}", ink.PLAIN, "click_by(1)"))
    if name == standing.mine:
        words.append(Word(f"{_gap(words)}mine", ink.STRONG, call))
    sounds = pen.heard if heard else "silent"
    words.append(Word(f"{_gap(words)}{sounds}", ink.MARK if heard else ink.QUIET, call))
    if level_db:
        words.append(Word(f" {level_db:+g} dB", ink.QUIET, call))
    return tuple(words)


def _gap(words: list[Word]) -> str:
    return "" if words[-1].text.endswith(" ") else " "


def _sentence(standing: Standing) -> str:
    ladder = standing.progress.ladder
    if standing.choices.way is not Way.LADDER:
        return ""
    fresh = ladder.word is LadderWord.STAY and ladder.turn == 0
    return "" if fresh else sentence(ladder)
