"""How fast fingerings are found, and how often they agree with fingers that were written by hand.

Bound (issue on harmony and the neck): 10,000 notes in under 1 s, chords of six included. The peer, in the same run, is
the same dynamic programming in plain Python over the same grips, on a shorter line, scaled to the length.
Agreement: every note of the bundled exercises whose finger is written, against the solver, which is not shown it; the
peer is the plain rule of a finger a fret from the lowest fret of the bar. Run: `python -m tests.benchmarks.fingering`.
"""

import statistics
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from random import Random

from tests.arranging.lines import GUITAR
from trainer.arranging.chain import without_fingers
from trainer.arranging.fingered import finger
from trainer.arranging.fingering import HandMoment, best_fingering, different_fingerings
from trainer.arranging.grip import Grip, WantedNote, grips
from trainer.arranging.hand import STANDARD_HAND, fret_mm
from trainer.arranging.move_costs import Tie
from trainer.arranging.realise import realise_exercise
from trainer.notation.read import read

NOTES = 10_000
BOUND = 1.0
RUNS = 5
SHAPES = ((0,), (0, 7), (0, 7, 12), (0, 7, 12, 16), (0, 7, 12, 15, 19, 24))


def line(random: Random, count: int) -> list[HandMoment]:
    """A walk over the whole neck, in sixteenths at 120 bpm."""
    midi, events = 60, []
    for _ in range(count):
        midi = min(86, max(40, midi + random.randint(-5, 5)))
        events.append(HandMoment((WantedNote(midi),), ((Tie.NONE, 0),), 0.125))
    return events


def chords(random: Random, count: int) -> list[HandMoment]:
    """Single notes, power chords and chords up to six notes, of so many notes together."""
    events: list[HandMoment] = []
    while count > 0:
        shape = random.choice(SHAPES)
        root = random.randint(40, 48)
        events.append(
            HandMoment(tuple(WantedNote(root + step) for step in shape), ((Tie.NONE, 0),) * len(shape), 0.125)
        )
        count -= len(shape)
    return events


def in_plain_python(events: Sequence[HandMoment]) -> float:
    """The cheapest chain of single notes by loops; its cost."""
    hand = STANDARD_HAND
    before: list[tuple[Grip, float]] = []
    for event in events:
        after = []
        for grip in grips(event.wanted, GUITAR, hand):
            best = min((cost + move(old, grip, event.seconds) for old, cost in before), default=0.0)
            after.append((grip, best + grip.cost))
        before = after
    return min(cost for _, cost in before)


def move(a: Grip, b: Grip, seconds: float) -> float:
    """The cost of one move between single notes."""
    hand, cost = STANDARD_HAND, 0.0
    if a.position != b.position:
        distance = abs(fret_mm(GUITAR, a.position) - fret_mm(GUITAR, b.position))
        cost += (hand.shift_each + hand.shift_per_mm * distance) * (1 + hand.hurry_s / seconds)
    (string, fret, used), (other, place, again) = a.notes[0], b.notes[0]
    cost += hand.crossing * abs(string - other) + hand.skipped * max(0, abs(string - other) - 1)
    if used and used == again:
        away = string != other
        cost += (hand.hop if away else hand.along) if fret != place else hand.roll * away
    if used and again and (string, fret) == (other, place) and used != again:
        cost += hand.change_finger
    return cost


def seconds(work: Callable[[int], object]) -> float:
    """The median time of several runs, each on music of its own."""
    times = []
    for run in range(RUNS):
        begin = time.perf_counter()
        work(run)
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def speed() -> None:
    """Print the table of speed."""
    single = seconds(lambda run: best_fingering(line(Random(run), NOTES), GUITAR))
    mixed = seconds(lambda run: best_fingering(chords(Random(run), NOTES), GUITAR))
    three = seconds(lambda run: different_fingerings(line(Random(run), 64), GUITAR, 3))
    short = line(Random(9), NOTES // 50)
    assert abs(in_plain_python(short) - best_fingering(short, GUITAR).cost) < 1e-6
    peer = 50 * seconds(lambda run: in_plain_python(line(Random(run), NOTES // 50)))
    print(f"{'':<44}{'bound':>8}{'median':>9}{'of peer':>9}")
    print(f"{f'{NOTES} single notes':<44}{BOUND:>7.1f}s{single:>8.3f}s{single / peer:>8.3f}x")
    print(f"{f'{NOTES} notes, chords of up to six among them':<44}{BOUND:>7.1f}s{mixed:>8.3f}s{mixed / peer:>8.3f}x")
    print(f"{'three ways to play 64 notes':<44}{'':>8}{three:>8.3f}s{three / peer:>8.3f}x")
    print(f"{f'{NOTES} single notes in plain Python (peer)':<44}{'':>8}{peer:>8.3f}s{1:>8.3f}x")


def agreement() -> None:
    """Print the table of agreement."""
    written = same = by_rule = 0
    for path in sorted(Path("exercises").glob("*.md")):
        if path.name == "README.md":
            continue
        exercise = realise_exercise(read(path.read_text(encoding="utf-8"), path.name))
        for riff in exercise.riffs:
            for part in riff.tabs:
                found = finger(without_fingers(part), riff).part
                for bar, own in zip(part.bars, found.bars, strict=True):
                    frets = [note.fret for moment in bar for note in moment.notes if note.fret]
                    pairs = zip(bar, own, strict=True)
                    for note, other in ((n, o) for a, b in pairs for n, o in zip(a.notes, b.notes, strict=True)):
                        if note.finger and note.fret:
                            written += 1
                            same += note.finger == other.finger
                            by_rule += note.finger == str(min(4, note.fret - min(frets) + 1))
    print(f"{written} fingers are written in the bundled exercises:")
    print(f"{'the solver agrees':<44}{Fraction(same, written or 1).__float__():>8.0%}")
    print(f"{'a finger a fret from the lowest of the bar':<44}{Fraction(by_rule, written or 1).__float__():>8.0%}")


if __name__ == "__main__":
    speed()
    print()
    agreement()
