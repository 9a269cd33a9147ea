"""What a player's hands have kept up: the fastest strokes, notes and string changes among the clean passes in the log.

A clean pass shows what the hands can do at least; what was never asked of them cannot be known.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from trainer.arranging.demand import demand
from trainer.arranging.realise import realise
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.notation.files import read_file
from trainer.practice import reading
from trainer.session.machine import Machine

MOST_LINES = 60
"""The lines with the highest clean tempo that are looked at: more would take longer than they could add."""
_LOADS = {"strokes": "swings", "notes": "notes", "string_changes": "crossings"}
"""For each limit the load of a demand that it bounds."""


@dataclass(frozen=True, slots=True)
class CleanRate:
    """The most of one thing that was kept up in a clean pass."""

    value: float
    """A second."""
    where: str
    """Riff, part and tempo."""


def clean_rates(machine: Machine) -> dict[str, CleanRate]:
    """The best rates by the names in `arranging.abilities.OWN`; what no clean pass shows is left out."""
    best: dict[str, CleanRate] = {}
    for riff, part, bpm in _clean_lines(machine):
        loads = {load.name: load.value for load in demand(part, riff, bpm=bpm).limits}
        for name, load in _LOADS.items():
            value = loads.get(load, 0.0)
            if value and (name not in best or value > best[name].value):
                best[name] = CleanRate(value, f"{riff.name}, {part.name} at {float(bpm):g} bpm")
    return {name: best[name] for name in _LOADS if name in best}


def _clean_lines(machine: Machine) -> Iterator[tuple[Riff, TabPart, Fraction]]:
    """Riffs and parts that were played clean as they are written now, each at its best tempo, the fastest first."""
    names = [name for name, record in machine.log.ask(reading.exercises).items() if record.best_bpm > 0]
    records = [record for name in names for record in machine.log.ask(reading.lines, name) if record.best_bpm > 0]
    for record in sorted(records, key=lambda one: -one.best_bpm)[:MOST_LINES]:
        try:
            written = read_file(machine.exercises.find(record.line.exercise), machine.rig.patch_names)
            riff = written.riff(record.line.riff)
            played = None if riff is None else realise(riff)
        except ProblemsError:
            continue
        part = played.part(record.line.part) if played is not None else None
        if played is not None and isinstance(part, TabPart):
            yield played, part, Fraction(record.best_bpm).limit_denominator(1000)
