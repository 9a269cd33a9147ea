"""Simulated players of known ability on a ladder: every pass is rendered, heard, judged and decides the next rung.

The player plays a pass clean with a probability that falls with the tempo; a pass that fails gets one fault. The takes
come from the program's own renderer, and are judged as the stand judges a pass: cut out of what came in, with the
start not known.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from math import log
from random import Random

from tests.listening.banked import rendered, treated
from tests.listening.faulty import FAULTS, Faulty, clean
from tests.listening.plucked import player
from tests.listening.sheets import Sheet, bundled_sheet
from tests.practice.players import SimulatedPlayer
from trainer.listening.judging import judge_cut_pass
from trainer.practice.ladder import Ladder
from trainer.practice.ladder_rules import LadderRules
from trainer.practice.verdict import Decides, Outcome, Verdict, decided

BEFORE_S, AFTER_S = 0.5, 1.0
"""What the stand keeps of a take around a pass."""
FAILING = ("missed", "wrong", "stray", "drift", "flat", "lost bar", "hand")
"""Faults with which a pass is no longer clean: a possible extra and a place that is a little off are told only."""


@dataclass(frozen=True)
class Climb:
    """A ladder after some passes."""

    ladder: Ladder
    start_bpm: float
    passes: tuple[tuple[Outcome, Outcome], ...]
    """What was told of each pass, and what it was."""
    tempos: tuple[float, ...]
    """The rung of each pass, unrounded."""


def rules_for(sheet: Sheet) -> LadderRules:
    """A ladder from the exercise's start tempo, with room above its target and no bound on a day's rise."""
    start = float(sheet.riff.tempo.start)
    return LadderRules(start, min(3 * start, 400.0), rise=100, not_now=50)


def player_for(sheet: Sheet, random: Random) -> SimulatedPlayer:
    """One who can play the riff somewhere between its start tempo and its target."""
    start, target = float(sheet.riff.tempo.start), float(sheet.riff.tempo.target)
    return SimulatedPlayer(random.uniform(1.15 * start, max(1.2 * start, target)))


def failing(sheet: Sheet, start_s: float, seed: int, random: Random) -> Faulty:
    """A pass with one fault that the riff has a place for."""
    written = sheet.written
    while True:
        notes = player(written, start_s, random.uniform(2.0, 6.0), seed)
        faulty = FAULTS[random.choice(FAILING)](written, notes, random)
        if faulty is not None:
            return faulty


def heard(sheet: Sheet, outcome: Outcome, random: Random) -> Verdict:
    """What the take of one pass says."""
    seed = random.randrange(1 << 30)
    start = BEFORE_S + random.uniform(-0.015, 0.03)
    if outcome is Outcome.CLEAN:
        faulty = clean(player(sheet.written, start, random.uniform(2.0, 6.0), seed))
    else:
        faulty = failing(sheet, start, seed, random)
    seconds = BEFORE_S + float(sheet.written.length) + AFTER_S
    take = treated(rendered(sheet, faulty.notes, seconds), seed, -60.0)
    judgement = judge_cut_pass(take, BEFORE_S, sheet.written)
    return decided(Decides.TAKE, Outcome.UNJUDGED, judgement.verdict)


def climbed(random: Random, passes: int, sheet: Sheet | None = None, player: SimulatedPlayer | None = None) -> Climb:
    """A climb led by takes."""
    chosen = sheet or bundled_sheet(random)
    who = player or player_for(chosen, random)

    def told(outcome: Outcome, tempo_bpm: int) -> Outcome:
        return heard(chosen.at(Fraction(tempo_bpm)), outcome, random).outcome

    return _climb(rules_for(chosen), who, passes, random, told)


def climbed_by_truth(random: Random, passes: int, rules: LadderRules, who: SimulatedPlayer) -> Climb:
    """The same climb led by a key that tells the truth."""
    return _climb(rules, who, passes, random, lambda outcome, _: outcome)


def _climb(
    rules: LadderRules, who: SimulatedPlayer, passes: int, random: Random, told: Callable[[Outcome, int], Outcome]
) -> Climb:
    ladder = Ladder.begin(rules, date(2031, 5, 4))
    way = Climb(ladder, ladder.tempo_bpm, (), ())
    for _ in range(passes):
        rung = ladder.rung.tempo_bpm
        played = who.plays(rung, random)
        said = told(played, rung)
        way = replace(way, passes=(*way.passes, (said, played)), tempos=(*way.tempos, ladder.tempo_bpm))
        ladder = ladder.after(said)
    return replace(way, ladder=ladder)


def settled(climb: Climb, after: int) -> float:
    """Mean of the logarithm of the rungs from a pass on."""
    later = [log(tempo) for tempo in climb.tempos[after:]]
    return sum(later) / len(later)
