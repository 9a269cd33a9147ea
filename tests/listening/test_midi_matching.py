"""MIDI takes: performances with known faults are told exactly (a thousand of them in the benchmark)."""

from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from tests.listening.plucked import gallop, line
from trainer.listening.midi_matching import match_midi
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.performance import Performance
from trainer.listening.written import WrittenPart

TICK = Fraction(1, 1920)


def part(random: Random) -> WrittenPart:
    tempo = random.choice((90, 120, 150, 180))
    if random.random() < 0.3:
        return gallop(tempo, bars=random.randint(2, 6))
    pitches = [random.choice((40, 43, 45, 47, 50, 52, 55, 57, 59, 62, 64)) for _ in range(random.randint(16, 48))]
    if random.random() < 0.3:
        return line([(pitch, pitch + 7, pitch + 12) for pitch in pitches], tempo)
    return line(pitches, tempo, random.choice((1, 2, 4)) if tempo < 130 else 2)


class Performer:
    """Plays a part with known faults on whole ticks, and remembers them.

    Two faults never meet: whether a note before a missing one is early or somebody else's could not be told.
    """

    def __init__(self, written: WrittenPart, random: Random) -> None:
        self.notes: list[MidiNote] = []
        self.missed: set[int] = set()
        self.wrong: dict[int, int] = {}
        self.extras: set[tuple[Fraction, int]] = set()
        self.at: dict[int, Fraction] = {}
        strokes = written.strokes
        start = TICK * random.randint(0, 4000)
        drift = random.uniform(-0.004, 0.004)
        gap = min(float(b.at - a.at) for a, b in pairwise(strokes))
        jitter = min(0.02, gap / 8)
        calm = 0
        for index, stroke in enumerate(strokes):
            fault = random.random() if index > calm and index < len(strokes) - 1 else 1.0
            calm = index + 1 if fault < 0.2 else calm
            if fault < 0.05:
                self.missed.add(index)
                continue
            exact = float(start + stroke.at) + drift * float(stroke.at) + random.gauss(0, jitter / 2)
            at = max(round(exact / TICK), 0) * TICK
            self.at[index] = at
            if fault < 0.1:
                self.wrong[index] = random.choice((-2, -1, 1, 2, 5))
            for place, pitch in enumerate(stroke.pitches):
                self.notes.append(MidiNote(at + place * 3 * TICK, pitch + self.wrong.get(index, 0)))
            if 0.1 <= fault < 0.15:
                self.add(at + round(gap * 0.5 / TICK) * TICK, stroke.pitches[0] + random.choice((-1, 1, 3)))
            elif 0.15 <= fault < 0.2:
                self.add(at + round(min(0.05, gap * 0.45) / TICK) * TICK, stroke.pitches[0])

    def add(self, at: Fraction, pitch: int) -> None:
        self.extras.add((at, pitch))
        self.notes.append(MidiNote(at, pitch))


def faults(performance: Performance) -> tuple[set[int], set[int], set[tuple[float, int]]]:
    missed = {k for k, item in enumerate(performance.strokes) if item.missed}
    wrong = {k for k, item in enumerate(performance.strokes) if item.wrong}
    return missed, wrong, {(extra.at_s, extra.pitch) for extra in performance.extras}


@pytest.mark.parametrize("block", range(3))
def test_performances_are_told_exactly(block: int) -> None:
    for seed in range(block * 100, block * 100 + 100):
        random = Random(seed)
        written = part(random)
        played = Performer(written, random)
        performance = match_midi(MidiTake(tuple(sorted(played.notes)), TICK), written)
        missed, wrong, extras = faults(performance)
        assert missed == played.missed, seed
        assert wrong == set(played.wrong), seed
        assert extras == {(float(at), pitch) for at, pitch in played.extras}, seed
        for index, at in played.at.items():
            assert performance.strokes[index].at_s == float(at), seed
