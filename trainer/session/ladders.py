"""The ladder that belongs to what is looped, and the state in which the player left a riff, from memory and log."""

from dataclasses import replace
from datetime import date

from trainer.playback.piece import Loop
from trainer.practice import reading
from trainer.practice.days import practice_day
from trainer.practice.ladder import Ladder
from trainer.practice.log import Log
from trainer.practice.loop_ladders import loop_ladder
from trainer.practice.methods import FadingGuide
from trainer.practice.verdict import Decides
from trainer.session.choices import Choices, Method, to_hundredth
from trainer.session.machine import Machine
from trainer.session.memory import DECIDES
from trainer.session.music import LoadedExercise
from trainer.session.state import Progress, SessionState, building_for


def as_left(loaded: LoadedExercise, machine: Machine) -> SessionState:
    """The state in which a session of a riff begins: everything as the player left it."""
    choices = machine.memory.choices(loaded.exercise.id, loaded.riff) or Choices(count_in=1)
    bars = len(loaded.piece.bars)
    mine = choices.mine if choices.mine in loaded.parts else loaded.guitars[0] if loaded.guitars else loaded.parts[0]
    last = choices.last if choices.first <= choices.last < bars else bars - 1
    first = choices.first if choices.first <= last else 0
    bpm = choices.bpm or to_hundredth(loaded.rules.start_bpm)
    silent = tuple(name for name in choices.unheard if name in loaded.heard)
    choices = replace(choices, mine=mine, first=first, last=last, bpm=bpm, unheard=silent)
    today = practice_day(machine.now())
    progress = Progress(
        Ladder.begin(loaded.rules, today), FadingGuide(), building=building_for(Loop(first, last), choices.method)
    )
    if choices.method is Method.BURST:
        choices = replace(choices, method=Method.PLAIN)
    plain = SessionState(loaded, replace(choices, method=Method.PLAIN), progress, decides_of(machine), bar=first)
    return replace(with_ladders(plain, machine.log, today), choices=choices)


def decides_of(machine: Machine) -> Decides:
    """Who decides while a session listens, as the player chose it last."""
    try:
        return Decides(machine.memory.get(DECIDES) or Decides.KEY)
    except ValueError:
        return Decides.KEY


def with_ladders(state: SessionState, log: Log, today: date) -> SessionState:
    """The ladders of what is looped now, mine and the other guitar's: the record's, else new ones.

    New ladders of some bars begin at the tempo of now: the player has just played them at that.
    """
    mine, other = state.mine, state.loaded.other(state.mine)
    progress = replace(
        state.progress,
        ladder=_ladder(state, mine, log, today),
        other=_ladder(state, other, log, today) if other else None,
    )
    return replace(state, progress=progress)


def _ladder(state: SessionState, part: str, log: Log, today: date) -> Ladder:
    loaded, bars, line = state.loaded, state.loop_bars, state.loaded.line(part)
    kept = log.ask(reading.ladder, line) if bars is None else log.ask(loop_ladder, line, bars)
    found = loaded.ladder(today, kept) if kept is not None else None
    if found is not None:
        return found
    from_bpm = None if bars is None else float(state.tempo_bpm)
    return Ladder.begin(loaded.rules, today, from_bpm, state.chosen_loop.bars)
