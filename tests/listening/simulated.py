"""Simulated players: a part, one known fault or none, and what the verdict must then say.

Used by the ordinary tests on a few seeds and by the benchmark on hundreds.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from tests.listening.plucked import Played, gallop, late, line, player, record
from trainer.listening.judging import Judgement, judge_sound
from trainer.listening.sound import Sound
from trainer.listening.written import Figure, Written

LINES = (
    (40, 43, 45, 47, 50, 52, 50, 47, 45, 43, 47, 50, 52, 55, 52, 50),
    (52, 55, 57, 59, 62, 64, 62, 59, 57, 55, 59, 62, 64, 67, 64, 62),
    (64, 62, 60, 59, 57, 60, 59, 57, 55, 57, 59, 60, 62, 64, 65, 64),
)


@dataclass(frozen=True)
class Run:
    """One simulated pass."""

    written: Written
    notes: list[Played]
    fault: str
    """`clean`, `missed`, `wrong`, `stray`, `place`."""
    strokes: tuple[int, ...]
    """Indices of the strokes that have it."""
    seed: int

    def named(self, judgement: Judgement) -> bool:
        """Whether the sentences name the fault and its place; for a clean pass, whether they blame nothing."""
        reasons = judgement.verdict.reasons
        if self.fault == "clean":
            return not reasons and str(judgement.verdict.outcome) == "clean"
        strokes = [self.written.strokes[index] for index in self.strokes]
        words = {"missed": ("lost",), "wrong": ("fret", "string", "octave", "fifth"), "stray": (" late", " early"),
                 "place": ("second sixteenth",)}[self.fault]  # fmt: skip
        for fault in judgement.faults[:3]:
            reason = fault.reason
            if fault.kind == self.fault and any(word in reason.sentence for word in words):
                return self.fault == "place" or any(
                    reason.bar == stroke.bar and reason.count == stroke.count for stroke in strokes
                )
        return False


def run(seed: int, fault: str) -> Run:
    """A player of some skill with one fault."""
    random = Random(seed)
    tempo = random.choice((90, 105, 120, 135, 150))
    galloping = fault == "place" or random.random() < 0.4
    written = gallop(tempo, bars=random.choice((4, 6, 8))) if galloping else line(random.choice(LINES) * 2, tempo)
    if galloping and fault != "place":
        written = gallop(tempo, bars=4)
    notes = player(written, random.uniform(0.3, 1.2), random.uniform(2.0, 7.0), seed)
    strokes: tuple[int, ...] = (random.randrange(2, len(notes) - 2),)
    if fault == "missed":
        del notes[strokes[0]]
    elif fault == "wrong":
        index = strokes[0]
        shift = random.choice((-2, -1, 1, 2, 5))
        pitch = max(40, notes[index].pitches[0] + shift)
        pitch = pitch if pitch != notes[index].pitches[0] else pitch + 1
        notes[index] = replace(notes[index], pitches=(pitch,))
    elif fault == "stray":
        notes = late(notes, strokes, random.choice((-1, 1)) * random.uniform(52, 62))
    elif fault == "place":
        strokes = tuple(k for k, item in enumerate(written.strokes) if item.figure is Figure.SECOND_SHORT)
        notes = late(notes, strokes, random.uniform(18, 28))
    return Run(written, notes, fault, strokes, seed)


FAULTS = ("missed", "wrong", "stray", "place")


def played(item: Run, source: Callable[[Run], Sound] | None = None) -> Judgement:
    """Record and judge a run."""
    random = Random(item.seed)
    seconds = float(item.written.length) + 2.5
    sound = source(item) if source else record(
        item.notes, seconds, item.seed, random.uniform(-70, -45), random.choice((0.0, 0.0, 3.0, 8.0)),
        random.choice((44_100, 48_000)),
    )  # fmt: skip
    return judge_sound(sound, item.written)
