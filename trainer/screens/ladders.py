"""Which ladder belongs to what is looped, and the state of a stand as it was left."""

from dataclasses import replace
from datetime import date

from trainer.playback.piece import Loop
from trainer.practice import reading
from trainer.practice.days import practice_day
from trainer.practice.fading import FadingGuide
from trainer.practice.ladder import Ladder
from trainer.practice.log import Log
from trainer.practice.loop_ladders import loop_ladder
from trainer.screens.choices import Choices, Way
from trainer.screens.progress import Progress
from trainer.screens.standing import Standing, building_for
from trainer.screens.stood import Stood
from trainer.screens.wiring import Wiring


def as_left(stood: Stood, wiring: Wiring) -> Standing:
    """The state with which a riff is put on the stand: everything as the player left it."""
    choices = wiring.memory.choices(stood.exercise.id, stood.riff) or Choices(count_in=1)
    bars = len(stood.piece.bars)
    mine = choices.mine if choices.mine in stood.parts else stood.guitars[0] if stood.guitars else stood.parts[0]
    last = choices.last if choices.first <= choices.last < bars else bars - 1
    first = choices.first if choices.first <= last else 0
    bpm = choices.bpm or stood.rules.start_bpm
    silent = tuple(name for name in choices.unheard if name in stood.heard)
    choices = replace(choices, mine=mine, first=first, last=last, bpm=bpm, unheard=silent)
    today = practice_day(wiring.now())
    progress = Progress(
        Ladder.begin(stood.rules, today), FadingGuide(), building=building_for(Loop(first, last), choices.way)
    )
    if choices.way is Way.BURST:
        choices = replace(choices, way=Way.PLAIN)
    plain = Standing(stood, replace(choices, way=Way.PLAIN), progress)
    return replace(with_ladders(plain, wiring.log, today), choices=choices)


def with_ladders(standing: Standing, log: Log, today: date) -> Standing:
    """The ladders of what is looped now, mine and the other guitar's: the record's, else new ones.

    New ladders of some bars begin at the tempo of now: the player has just played them at that.
    """
    mine, other = standing.mine, standing.stood.other(standing.mine)
    progress = replace(
        standing.progress,
        ladder=_ladder(standing, mine, log, today),
        other=_ladder(standing, other, log, today) if other else None,
    )
    return replace(standing, progress=progress)


def _ladder(standing: Standing, part: str, log: Log, today: date) -> Ladder:
    stood, bars, line = standing.stood, standing.loop_bars, standing.stood.line(part)
    kept = log.ask(reading.ladder, line) if bars is None else log.ask(loop_ladder, line, bars)
    found = stood.ladder(today, kept) if kept is not None else None
    if found is not None:
        return found
    from_bpm = None if bars is None else standing.tempo_bpm
    return Ladder.begin(stood.rules, today, from_bpm, standing.chosen_loop.bars)
