"""Simulated players: a loop of an exercise, one known fault or none, a take of it, and what the verdict must then say.

Takes come from two sources that know nothing of each other: the strings of these tests (`plucked`), and the program's
own renderer with the built-in bank (`banked`), dry or with a player's own noise and drive. All are judged by the
function that the commands use. The ordinary tests take a few seeds, the benchmark hundreds.
"""

from dataclasses import dataclass
from random import Random

from tests.listening.banked import rendered, treated
from tests.listening.faulty import FAULTS, GALLOPING, Faulty, clean
from tests.listening.plucked import player, record
from tests.listening.sheets import Sheet, bundled_sheet, made_sheet
from trainer.commands.judging import judge
from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement
from trainer.listening.sound import Sound

SOURCES = ("plucked", "bank", "bank, driven")
RATES = (44_100, 48_000)
RINGS_ON_S = 1.7
__all__ = ["FAULTS", "SOURCES", "Run", "run"]


@dataclass(frozen=True)
class Run:
    """One simulated pass."""

    sheet: Sheet
    faulty: Faulty
    source: str
    seed: int
    start_s: float
    """Second of the take at which the part begins."""

    def sound(self) -> Sound:
        """The take."""
        random = Random(self.seed)
        seconds = self.start_s + float(self.sheet.written.length) + RINGS_ON_S
        rate, noise = random.choice(RATES), random.uniform(-70, -45)
        if self.source == "plucked":
            return record(self.faulty.notes, seconds, self.seed, noise, random.choice((0.0, 0.0, 3.0, 8.0)), rate)
        sound = rendered(self.sheet, self.faulty.notes, seconds, rate)
        driven = self.source == "bank, driven"
        return treated(sound, self.seed, noise if driven else -75.0, random.uniform(1.5, 6.0) if driven else 0.0)

    def judged(self) -> Judgement:
        """The judgement on the take; the start is known only where a bias is looked for."""
        start = self.start_s if self.faulty.bias_ms is not None else None
        return judge(self.sound(), self.sheet.subject, self.sheet.part, Bands(), start)[0]


def sheet(random: Random, *, galloping: bool) -> Sheet:
    """Something to play."""
    if random.random() < 0.6:
        return bundled_sheet(random)
    return made_sheet(random, galloping=galloping or random.random() < 0.4)


def run(seed: int, fault: str, source: str) -> Run:
    """A player of some skill with one fault, or `clean`, on a part that has a place for it."""
    random = Random(f"{seed} {fault}")
    while True:
        chosen = sheet(random, galloping=fault in GALLOPING)
        start = random.uniform(0.4, 1.2)
        notes = player(chosen.written, start, random.uniform(2.0, 6.0), seed)
        faulty = clean(notes) if fault == "clean" else FAULTS[fault](chosen.written, notes, random)
        if faulty is not None:
            return Run(chosen, faulty, source, seed, start)
