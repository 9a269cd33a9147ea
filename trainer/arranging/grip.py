"""Grips: every way one hand can hold what sounds at one moment.

A grip says for each note its string, fret and finger, and the fret under the index finger (the hand's position).
Its rules:

- One finger a fret is natural: finger k stands at position + k - 1. It may stand farther, as long as its distance from
  the index finger's fret stays within the hand's reach, and a chord may squeeze fingers together.
- A single fretted finger stands at its natural fret or farther, within the hand's reach; the index reaches one fret
  back.
- A higher finger never stands behind a lower one; at the same fret the higher finger takes the thinner string.
- A finger may lie across several strings at one fret (a barre) if no string between them sounds behind it.
- Open strings, dead notes and tapped notes need no finger of the fretting hand.
- Where no grip obeys the reach, the reach is set aside and the grip is marked: an impossible stretch is shown. Where
  fingers are written that cross each other, they are kept and marked likewise.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from trainer.arranging.hand import Hand, fret_mm
from trainer.music.instrument import HARMONICS, Instrument

HeldPlace = tuple[int, int, int]
"""String, fret and finger; finger 0 where the fretting hand needs none, 5 for the thumb."""

THUMB = 5


@dataclass(frozen=True, slots=True)
class WantedNote:
    """One note that must sound, and what is already decided about it."""

    midi: int | None
    """None for a dead note."""
    place: tuple[int, int] | None = None
    """String and fret where they are decided."""
    finger: int = 0
    """The finger where it is decided: 1 to 4, 5 for the thumb; 0 leaves it open."""
    bend: int = 0
    """Semitones the note is bent by."""
    vibrato: bool = False
    free: bool = False
    """It needs no finger of the fretting hand wherever it is: dead or tapped."""
    harmonic: bool = False
    """Played as a natural harmonic."""
    pedal: bool = False
    """A palm-muted note struck over and over: an open string is where it belongs."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Where on the neck the answer may lie; what is written is exempt."""

    strings: tuple[int, int] | None = None
    """The thinnest and the thickest string allowed."""
    frets: tuple[int, int] | None = None
    """The lowest and the highest fret allowed; open strings are exempt."""
    near: int | None = None
    """A fret to stay close to."""
    avoid_open: bool = False


@dataclass(frozen=True, slots=True)
class Grip:
    """One way to hold the notes of a moment."""

    notes: tuple[HeldPlace, ...]
    """In the order in which they were wanted."""
    position: int
    """The fret under the index finger, from 1."""
    cost: float
    """What the grip costs by itself."""
    beyond_reach: bool = False
    """It needs a stretch that the hand cannot make."""
    crossed: bool = False
    """Its fingers are written where they would cross, or in two places at once."""


NO_LIMITS = Limits()


@lru_cache(maxsize=8192)
def grips(wanted: tuple[WantedNote, ...], neck: Instrument, hand: Hand, limits: Limits = NO_LIMITS) -> tuple[Grip, ...]:
    """Every grip for some notes; empty where no choice of strings has them all."""
    choices = [places(note, neck, limits) for note in wanted]
    for reach, order in ((True, True), (False, True), (False, False)):
        found = tuple(_grips(wanted, choices, neck, hand, limits, reach=reach, order=order))
        if found or (not reach and not any(note.finger for note in wanted)):
            break
    return found


def places(note: WantedNote, neck: Instrument, limits: Limits = NO_LIMITS) -> tuple[tuple[int, int], ...]:
    """The strings and frets where a note may be played."""
    if note.place is not None:
        return (note.place,)
    if note.midi is None:
        found: Sequence[tuple[int, int]] = [(string, 0) for string in range(1, neck.strings + 1)]
    else:
        found = neck.places(note.midi)
        if note.bend or note.vibrato:  # the file writes a bend by the fret whose pitch it reaches
            found = [place for place in found if 0 < place[1] <= neck.last_fret - note.bend]
    if note.harmonic and note.midi is not None:
        found = _harmonic_places(neck, note.midi) or found
    low, high = limits.strings or (1, neck.strings)
    first, last = limits.frets or (0, neck.last_fret)
    return tuple(place for place in found if low <= place[0] <= high and (not place[1] or first <= place[1] <= last))


def _harmonic_places(neck: Instrument, midi: int) -> list[tuple[int, int]]:
    return [
        (string, fret)
        for string in range(1, neck.strings + 1)
        for fret in HARMONICS
        if fret <= neck.last_fret and neck.harmonic_midi(string, fret) == midi
    ]


def _grips(
    wanted: tuple[WantedNote, ...],
    choices: Sequence[Sequence[tuple[int, int]]],
    neck: Instrument,
    hand: Hand,
    limits: Limits,
    *,
    reach: bool,
    order: bool,
) -> Iterator[Grip]:
    for chosen in _chosen(wanted, choices, neck, hand.reach_mm[2] * _WIDE if reach else None):
        fretted = [
            index for index, (note, (_, fret)) in enumerate(zip(wanted, chosen, strict=True)) if fret and not note.free
        ]
        for fingers in _finger_choices(wanted, chosen, fretted, hand if order else None):
            for position in _positions(chosen, fingers, fretted, neck, hand):
                beyond = not _within_reach(chosen, fingers, position, neck, hand)
                if beyond and reach:
                    continue
                notes = tuple((string, fret, finger) for (string, fret), finger in zip(chosen, fingers, strict=True))
                grip = Grip(notes, position, 0.0, beyond, not order)
                yield replace(grip, cost=grip_cost(wanted, grip, neck, hand, limits))


def _chosen(
    wanted: tuple[WantedNote, ...],
    choices: Sequence[Sequence[tuple[int, int]]],
    neck: Instrument,
    widest_mm: float | None,
) -> Iterator[tuple[tuple[int, int], ...]]:
    """Every choice of one place a note on strings of their own, frets no farther apart than a width allows.

    Notes that are wanted alike take their strings in order, or each choice would come in every order of them. After
    `_MOST_STEPS` the search ends: no six notes on six strings come near it, but a file may ask for twelve on twelve.
    """
    steps = 0

    def choose(taken: tuple[tuple[int, int], ...]) -> Iterator[tuple[tuple[int, int], ...]]:
        nonlocal steps
        index = len(taken)
        if index == len(choices):
            yield taken
            return
        twin = next((i for i in range(index - 1, -1, -1) if wanted[i] == wanted[index]), None)
        for place in choices[index]:
            steps += 1
            if steps > _MOST_STEPS:
                return
            if any(place[0] == string for string, _ in taken) or (twin is not None and place[0] < taken[twin][0]):
                continue
            found = (*taken, place)
            if widest_mm is not None:
                frets = [fret for note, (_, fret) in zip(wanted, found, strict=False) if fret and not note.free]
                if frets and fret_mm(neck, max(frets)) - fret_mm(neck, min(frets)) > widest_mm:
                    continue
            yield from choose(found)

    yield from choose(())


_WIDE = 1.5
"""Frets farther apart than this many reaches of the little finger need no closer look."""
_MOST_STEPS = 50_000


def _finger_choices(
    wanted: tuple[WantedNote, ...], chosen: Sequence[tuple[int, int]], fretted: Sequence[int], hand: Hand | None
) -> Iterator[tuple[int, ...]]:
    """Fingers for every note: 0 where none is needed. Low frets take low fingers, and thick strings before thin.

    Without a hand the fingers that are written are kept whatever they cross, and the index takes the rest.
    """
    order = sorted(fretted, key=lambda index: (chosen[index][1], -chosen[index][0]))
    fingers = [0] * len(wanted)

    def assign(rank: int) -> Iterator[tuple[int, ...]]:
        if rank == len(order):
            yield tuple(fingers)
            return
        index = order[rank]
        allowed = (wanted[index].finger,) if wanted[index].finger else hand.fingers if hand else (1,)
        for finger in allowed:
            if hand is None or _fits(finger, chosen, index, order[:rank], fingers):
                fingers[index] = finger
                yield from assign(rank + 1)
                fingers[index] = 0

    yield from assign(0)


def _fits(
    finger: int, chosen: Sequence[tuple[int, int]], index: int, before: Sequence[int], fingers: Sequence[int]
) -> bool:
    """Whether a finger may take a note after those of lower frets and, at its fret, of thicker strings."""
    string, fret = chosen[index]
    if finger == THUMB:
        return all(fingers[other] != THUMB for other in before)
    for other in before:
        if fingers[other] == THUMB:
            continue
        if fingers[other] > finger:
            return False
        if fingers[other] == finger:
            if chosen[other][1] != fret:
                return False
            low, high = sorted((string, chosen[other][0]))
            if any(low < between < high and behind < fret for between, behind in chosen):
                return False
    return True


def _positions(
    chosen: Sequence[tuple[int, int]], fingers: Sequence[int], fretted: Sequence[int], neck: Instrument, hand: Hand
) -> Iterator[int]:
    used = sorted({(fingers[index], chosen[index][1]) for index in fretted if fingers[index] != THUMB})
    if not used:
        yield from range(1, max(neck.last_fret, 1) + 1)
    elif len(used) == 1:
        yield from _alone(*used[0], neck, hand)
    else:
        finger, fret = used[0]
        yield max(1, fret - (finger - 1))


@lru_cache(maxsize=1024)
def _alone(finger: int, fret: int, neck: Instrument, hand: Hand) -> tuple[int, ...]:
    """Where the hand may be when one finger alone is down: in its own place or farther back, as far as it reaches."""
    if finger == 1:
        return (fret, fret + 1) if fret < neck.last_fret else (fret,)
    natural = max(1, fret - (finger - 1))  # at the nut the hand cannot go behind it
    found = [natural]
    reach = hand.reach_mm[finger - 2]
    while found[-1] > 1 and fret_mm(neck, fret) - fret_mm(neck, found[-1] - 1) <= reach:
        found.append(found[-1] - 1)
    return tuple(found)


def _within_reach(
    chosen: Sequence[tuple[int, int]], fingers: Sequence[int], position: int, neck: Instrument, hand: Hand
) -> bool:
    index_mm = fret_mm(neck, position)
    for (_, fret), finger in zip(chosen, fingers, strict=True):
        if finger in (2, 3, 4) and fret_mm(neck, fret) - index_mm > hand.reach_mm[finger - 2]:
            return False
    return True


def grip_cost(wanted: Sequence[WantedNote], grip: Grip, neck: Instrument, hand: Hand, limits: Limits) -> float:
    """What a grip costs by itself, from the hand's table."""
    notes, position = grip.notes, grip.position
    cost = 0.0
    covered: dict[int, int] = {}
    fretted = any(finger for *_, finger in notes)
    for note, (string, fret, finger) in zip(wanted, notes, strict=True):
        if finger == 0:
            if fret == 0 and not note.free:
                cost += _open_cost(note, position if fretted else 0, hand, limits)
            continue
        rank = 0 if finger == THUMB else finger - 1
        cost += hand.finger_use[rank] + hand.bend[rank] * note.bend + hand.vibrato[rank] * note.vibrato
        cost += hand.from_middle * abs(fret - hand.middle_fret) + hand.on_body * string * max(fret - hand.body_fret, 0)
        covered[finger] = covered.get(finger, 0) + 1
        if finger != THUMB and covered[finger] == 1:
            away = fret_mm(neck, fret) - fret_mm(neck, position + finger - 1)
            stretched = away > 0 or finger == 1
            cost += abs(away) * (hand.stretch_per_mm if stretched else hand.squeeze_per_mm)
    for finger, strings in covered.items():
        cost += hand.barre[min(finger, 4) - 1] * (strings - 1)
        if strings > 1:
            barred = next(fret for _, fret, used in notes if used == finger)
            cost += hand.crowded * sum(fret == barred and used not in (0, finger) for _, fret, used in notes)
    cost += hand.silent_between * _silent_strings(notes)
    if limits.near is not None and fretted:
        cost += hand.near_per_fret * abs(position + 1.5 - limits.near)
    return cost


def _open_cost(note: WantedNote, position: int, hand: Hand, limits: Limits) -> float:
    cost = (0.0 if note.pedal else hand.open_string) + hand.open_in_chord * position
    cost += hand.avoided_open if limits.avoid_open else 0.0
    return cost + (hand.broken if note.bend or note.vibrato else 0.0)


def _silent_strings(notes: Sequence[HeldPlace]) -> int:
    """Strings between the outer ones of a chord that do not sound."""
    if len(notes) < 2:
        return 0
    strings = [string for string, *_ in notes]
    return max(strings) - min(strings) + 1 - len(strings)
