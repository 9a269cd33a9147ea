"""What to practise next after a take: which bars, what tempo, which click pattern.

Practise the bar that stumbles together with the join to the next (peaks of variability lie at chunk joins: van Vugt
et al. 2012), at a tempo where it holds, under a click that states what was off.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.listening.faults import Fault
from trainer.listening.written import GallopNote, WrittenPart
from trainer.practice.verdict import Outcome

SLOWER = {
    "silent": 0.9, "missed": 0.9, "wrong": 0.85, "stray": 0.94, "place": 0.94, "gallop": 0.9, "loose": 0.9,
    "drift": 1.0,
}  # fmt: skip
"""Share of the tempo to go back to, by what went wrong; a house rule."""
CLICKS = {
    GallopNote.LONG: "gallop", GallopNote.FIRST_SHORT: "reverse gallop", GallopNote.TRIPLET_LONG: "triplet gallop",
}  # fmt: skip
"""The click pattern that states a figure, by the stroke it begins with."""
FASTER = 1.03
"""The smallest step worth a rung (Drake & Botte 1993)."""
MOST_BARS = 2


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to do next."""

    first_bar: int
    last_bar: int
    tempo_bpm: int
    click: str
    """The name of a click pattern."""
    sentence: str


def click_for(written: WrittenPart, fault: Fault | None) -> str:
    """The click pattern that states what a fault is about."""
    figures = [stroke.figure for stroke in written.strokes if stroke.figure is not GallopNote.NONE]
    if fault is None:
        return "beats"
    if fault.kind == "drift":
        return "off-beats"
    if len(figures) * 2 >= len(written.strokes):
        return CLICKS.get(figures[0], "triplets")
    shortest = min(float(stroke.length) for stroke in written.strokes) * written.tempo_bpm / 60
    if abs(shortest * 6 - round(shortest * 6)) < 0.01 and abs(shortest * 4 - round(shortest * 4)) > 0.01:
        return "triplets"
    return "sixteenths" if shortest < 0.4 else "eighths"


def advise(written: WrittenPart, faults: Sequence[Fault], outcome: Outcome) -> Advice | None:
    """What to do next; None when the take was not judged."""
    if outcome is Outcome.UNJUDGED:
        return None
    last = written.bars
    fault = next((fault for fault in faults if fault.fails), faults[0] if faults else None)
    if outcome is Outcome.CLEAN:
        tempo = max(round(written.tempo_bpm * FASTER), round(written.tempo_bpm) + 1)
        click = click_for(written, fault)
        return Advice(1, last, tempo, click, f"Next: all {last} bars at {tempo} bpm, click on {click}.")
    first, end = fault.bars if fault else (1, last)
    if fault and fault.reason.bar and end - first >= MOST_BARS:
        first = end = fault.reason.bar
    end = min(last, end + 1) if end - first < MOST_BARS else end
    tempo = round(written.tempo_bpm * SLOWER.get(fault.kind if fault else "", 0.95))
    click = click_for(written, fault)
    bars = f"bar {first}" if first == end else f"bars {first} to {end}"
    return Advice(first, end, tempo, click, f"Next: loop {bars} at {tempo} bpm, click on {click}.")
