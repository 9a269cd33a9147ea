"""What a part's hands do, in order of place: notes, strokes, string changes, shifts. `demand` measures it."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.arranging.abilities import Abilities
from trainer.arranging.fingered import Fingered
from trainer.arranging.grip import THUMB
from trainer.arranging.hand import Hand, fret_mm
from trainer.arranging.move_costs import Tie
from trainer.arranging.riff_clock import RiffClock, riff_clock
from trainer.arranging.strokes import CrossingKind, Picking, PickStroke, crossings, strokes
from trainer.music.riff import Riff


@dataclass(frozen=True, slots=True)
class Doing:
    """Something done at a place."""

    at: Fraction
    """Whole notes from the riff's start."""
    value: float
    """How much it counts (1, or 2 for a movement that must come back), or its speed."""
    share: float = 0.0
    """Of the ceiling, where it is measured at its place."""
    mm: float = 0.0
    """For a shift: how far."""


@dataclass(frozen=True, slots=True)
class HandWork:
    """All that a part does, in order of place, and the clock it is done by."""

    clock: RiffClock
    bpm: float
    """The tempo it is done at."""
    notes: tuple[Doing, ...]
    """Onsets, hammered ones included."""
    fretted: tuple[Doing, ...]
    """Those of them at which the fretting hand does something: open strings that are picked ask nothing of it."""
    swings: tuple[Doing, ...]
    """Strokes, counted in half movements of the pick."""
    crossings: tuple[Doing, ...]
    """Changes of string."""
    moments: dict[str, tuple[Doing, ...]]
    """What is measured at its place: burst, shift, return, stretch."""
    beats: tuple[Fraction, ...]
    """Where each beat begins, in whole notes from the riff's start."""
    end: Fraction
    """Where the riff ends."""

    def rate(self, doings: Sequence[Doing], begin: Fraction, end: Fraction) -> float:
        """How much is done a second between two places."""
        seconds = self.clock.seconds(float(end)) - self.clock.seconds(float(begin))
        return sum(doing.value for doing in between(doings, begin, end)) / seconds


def hand_work(
    fingered: Fingered, riff: Riff, bpm: Fraction, *, hand: Hand, abilities: Abilities, picking: Picking
) -> HandWork:
    """All that the hands do in a part.

    Args:
        fingered: the part with its fingering.
        riff: the riff it belongs to.
        bpm: the tempo.
        hand: the fretting hand.
        abilities: the ceilings that shares are counted of.
        picking: how strokes that are not written are chosen.
    """
    clock = riff_clock(riff, bpm)
    starts = riff.bar_starts
    places = [starts[bar] + offset for bar, offset in fingered.moments]
    found = strokes(fingered.part, riff, picking)
    swings, bursts = pick_swings(found, clock, abilities)
    jumps = tuple(Doing(c.at, 2.0 if c.passage is CrossingKind.JUMP else 1.0) for c in crossings(found))
    moves = _hand_moves(fingered, places, hand, abilities)
    return HandWork(
        clock,
        float(bpm),
        tuple(Doing(place, 1.0) for place in places),
        tuple(_fretted(fingered, places)),
        swings,
        jumps,
        {"burst": bursts, **moves},
        beat_places(riff),
        riff.length,
    )


def _fretted(fingered: Fingered, places: Sequence[Fraction]) -> Iterator[Doing]:
    for place, event, grip in zip(places, fingered.chain.events, fingered.fingering.grips, strict=True):
        struck = [(tie, note[2]) for (tie, _), note in zip(event.ties, grip.notes, strict=True) if tie is not Tie.HELD]
        if any(finger or tie is Tie.HAMMER for tie, finger in struck):
            yield Doing(place, 1.0)


def pick_swings(
    found: Sequence[PickStroke], clock: RiffClock, abilities: Abilities
) -> tuple[tuple[Doing, ...], tuple[Doing, ...]]:
    """The pick's half movements at each stroke (two where it comes back for the same direction), and the bursts."""
    swings, bursts = [], []
    for number, stroke in enumerate(found):
        before = found[number - 1] if number else None
        halves = 2.0 if before and before.direction == stroke.direction else 1.0
        swings.append(Doing(stroke.at, halves))
        if before:
            rate = halves / (clock.seconds(float(stroke.at)) - clock.seconds(float(before.at)))
            bursts.append(Doing(stroke.at, rate, rate / abilities.burst_per_s))
    return tuple(swings), tuple(bursts)


def _hand_moves(
    fingered: Fingered, places: Sequence[Fraction], hand: Hand, abilities: Abilities
) -> dict[str, tuple[Doing, ...]]:
    """Shifts, returns of a finger, and stretches of the fretting hand."""
    neck = fingered.part.instrument
    shifts, returns, stretches = [], [], []
    before = None
    since = 0.0  # seconds since a finger was last needed: the hand moves while open strings sound
    for place, event, grip in zip(places, fingered.chain.events, fingered.fingering.grips, strict=True):
        frets = [fret for _, fret, used in grip.notes if used not in (0, THUMB)]
        if len(frets) > 1 and max(frets) > min(frets):
            span = fret_mm(neck, max(frets)) - fret_mm(neck, min(frets))
            stretches.append(Doing(place, span, span / hand.reach_mm[2]))
        since += event.seconds
        if not frets and not any(used for *_, used in grip.notes):
            continue
        if before is not None:
            slides = any(tie is Tie.SLIDE for tie, _ in event.ties)
            length = abs(fret_mm(neck, grip.position) - fret_mm(neck, before.position))
            if length and not slides:
                needed = abilities.shift_s + length / abilities.shift_mm_per_s
                shifts.append(Doing(place, length / since, needed / since, length))
            old = {used: (string, fret) for string, fret, used in before.notes if used}
            again = {used: (string, fret) for string, fret, used in grip.notes if used}
            if not slides and any(old[used] != again[used] for used in old.keys() & again.keys()):
                returns.append(Doing(place, 1 / since, abilities.return_s / since))
        before, since = grip, 0.0
    return {"shift": tuple(shifts), "return": tuple(returns), "stretch": tuple(stretches)}


def between(doings: Sequence[Doing], begin: Fraction, end: Fraction) -> Sequence[Doing]:
    """What is done from one place up to, not including, another."""
    low = bisect_left(doings, begin, key=lambda doing: doing.at)
    return doings[low : bisect_left(doings, end, key=lambda doing: doing.at)]


def beat_places(riff: Riff) -> tuple[Fraction, ...]:
    """Where each beat of a riff begins, in whole notes."""
    return tuple(
        start + beat * meter.pulse
        for start, meter in zip(riff.bar_starts, riff.meters, strict=False)
        for beat in range(-(-meter.length // meter.pulse))
    )
