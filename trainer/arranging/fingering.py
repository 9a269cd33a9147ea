"""The fingering of a line: the cheapest chain of grips, and other ways that are really different.

A line is a chain of events; each event has grips (`grip.grips`), each grip a cost by itself and each pair of
neighbouring grips the cost of going from one to the other (`hand.Hand`). The cheapest chain is found by dynamic
programming (Sayegh 1989), which is exact: no chain of the same grips costs less. What it models is in those two files.
Where nothing but open strings can sound the hand rests: such events are passed over, so that a power chord comes back
with the fingers it had before the gallop on the open string.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.arranging.grip import NO_LIMITS, Grip, Limits, WantedNote, places
from trainer.arranging.hand import STANDARD_HAND, Hand
from trainer.arranging.move_costs import GripTable, Tie, from_rest, grip_table, moves, to_rest
from trainer.music.instrument import Instrument

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class HandMoment:
    """What sounds from one count on: notes struck there and notes held from before."""

    wanted: tuple[WantedNote, ...]
    ties: tuple[tuple[Tie, int], ...]
    """For each note its tie and the index of the note it hangs on in the event before (0 for `Tie.NONE`)."""
    seconds: float = 1.0
    """Time since the event before."""


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way to play a line."""

    grips: tuple[Grip, ...]
    """One for each event."""
    cost: float
    """What the grips and the moves between them cost together."""

    @property
    def positions(self) -> tuple[int, ...]:
        """The fret under the index finger at each event."""
        return tuple(grip.position for grip in self.grips)


class NoGripError(Exception):
    """An event has no grip at all: a note lies nowhere on the neck, or notes share every string they have."""

    def __init__(self, event: int) -> None:
        super().__init__(f"event {event}")
        self.event = event


DIFFERENT = 0.25
"""Two ways are different when at least this share of the struck notes is played elsewhere. House rule."""
_ROUNDS = 24
"""Halvings in the search for the smallest surcharge that makes a way different."""


def best_fingering(
    events: Sequence[HandMoment], neck: Instrument, hand: Hand = STANDARD_HAND, limits: Limits = NO_LIMITS
) -> Fingering:
    """The cheapest way to play some events.

    Raises:
        NoGripError: an event cannot be gripped at all.
    """
    return _Search(events, neck, hand, limits).solve()


def different_fingerings(
    events: Sequence[HandMoment],
    neck: Instrument,
    count: int,
    hand: Hand = STANDARD_HAND,
    limits: Limits = NO_LIMITS,
) -> tuple[Fingering, ...]:
    """The best way and up to `count` - 1 others, each different from all before it by `DIFFERENT`, cheapest first.

    Places count as different, or, where every place is decided, fingers. Each further way is the cheapest with a
    surcharge on every note that it shares with an earlier one, with the smallest surcharge that makes it different: no
    way that shares as few notes with the earlier ones is cheaper. Fewer come back where the neck has no more.

    Raises:
        NoGripError: an event cannot be gripped at all.
    """
    search = _Search(events, neck, hand, limits)
    ways = [search.solve()]
    while len(ways) < count:
        found = search.another(ways)
        if found is None:
            break
        ways.append(found)
    return (ways[0], *sorted(ways[1:], key=lambda way: way.cost))


class _Search:
    """The tables for one line: grips for each event, and the cost of going from each to each."""

    def __init__(self, events: Sequence[HandMoment], neck: Instrument, hand: Hand, limits: Limits) -> None:
        self.events = events
        self.tables: list[GripTable] = []
        known: dict[
            tuple[WantedNote, ...], dict[tuple[Tie, ...], GripTable]
        ] = {}  # hashing a neck and a hand takes longer
        for number, event in enumerate(events):
            ties = tuple([tie for tie, _ in event.ties])
            alike = known.setdefault(event.wanted, {})
            table = alike.get(ties)
            if table is None:
                table = alike[ties] = grip_table(event.wanted, ties, neck, hand, limits)
                if not table.grips:
                    raise NoGripError(number)
            self.tables.append(table)
        self.held = [number for number, table in enumerate(self.tables) if not table.rests]
        self.moves: list[Numbers] = []
        seen: dict[tuple[tuple[int, ...], tuple[tuple[tuple[Tie, int], ...], ...], float], Numbers] = {}
        for one, other in pairwise(self.held):
            seconds = round(sum([events[number].seconds for number in range(one + 1, other + 1)]), 6)
            tables = self.tables[one : other + 1]
            ties_of = tuple([events[number].ties for number in range(one + 1, other + 1)])
            key = (tuple([id(table) for table in tables]), ties_of, seconds)
            found = seen.get(key)
            if found is None:
                steps = tuple(zip(tables[1:], ties_of, strict=True))
                found = seen[key] = moves(tables[0], steps, seconds, hand)
            self.moves.append(found)
        self.opening, self.closing = self._ends(hand)
        notes = {note for wanted in known for note in wanted}
        self.by_finger = all(note.free or len(places(note, neck, limits)) == 1 for note in notes)

    def _ends(self, hand: Hand) -> "tuple[Numbers, Numbers]":
        """What the first held event's grips cost after the open strings before it, and the last one's after it."""
        import numpy as np

        steps = [(table, event.ties) for table, event in zip(self.tables, self.events, strict=True)]
        first = self.held[0] if self.held else len(steps)
        rests = tuple(steps[:first])
        opening = rests[0][0].costs[:1] if rests else np.zeros(1)
        if len(rests) > 1:
            opening = opening + to_rest(rests[0][0], rests[1:], hand)[0]
        if not self.held:
            return opening, np.zeros(1)
        opening = opening + (from_rest(rests[-1][0], steps[first], hand) if rests else self.tables[first].costs)
        last = self.held[-1]
        after = tuple(steps[last + 1 :])
        closing = to_rest(self.tables[last], after, hand) if after else np.zeros(len(self.tables[last].grips))
        return opening, closing

    def solve(self, surcharges: "Sequence[Numbers] | None" = None) -> Fingering:
        """The cheapest chain; a surcharge for each grip of each event is added to its cost."""
        import numpy as np

        if not self.held:
            return self._way(())
        first = self.held[0]
        total = self.opening if surcharges is None else self.opening + surcharges[first]
        origins = []
        for number, costs in zip(self.held[1:], self.moves, strict=True):
            through = total[:, None] + costs
            origin = through.argmin(0)
            total = through[origin, np.arange(len(origin))]
            if surcharges is not None:
                total = total + surcharges[number]
            origins.append(origin)
        last = int((total + self.closing).argmin())
        chain = [last]
        for origin in reversed(origins):
            chain.append(int(origin[chain[-1]]))
        chain.reverse()
        return self._way(chain)

    def _way(self, chain: Sequence[int]) -> Fingering:
        """A chain of the events that are held; at the others the hand is where it will be needed next."""
        cost = sum(float(costs[a, b]) for costs, (a, b) in zip(self.moves, pairwise(chain), strict=True))
        cost += float(self.opening[chain[0]] + self.closing[chain[-1]]) if chain else float(self.opening.sum())
        chosen = {number: self.tables[number].grips[index] for number, index in zip(self.held, chain, strict=True)}
        grips: list[Grip] = []
        position = chosen[self.held[-1]].position if chosen else 1
        for number in range(len(self.tables) - 1, -1, -1):
            grip = chosen.get(number)
            if grip is None:
                grip = replace(self.tables[number].grips[0], position=position)
            position = grip.position
            grips.append(grip)
        return Fingering(tuple(reversed(grips)), cost)

    def another(self, ways: Sequence[Fingering]) -> Fingering | None:
        """The cheapest way with the smallest surcharge that makes it different from all of some ways."""
        shared = [self._shared(number, ways) for number in range(len(self.events))]
        high = 4.0
        found = None
        while found is None and high < 1e5:
            way = self.solve([high * each for each in shared])
            found = way if self._is_different(way, ways) else None
            high *= 4 if found is None else 1
        if found is None:
            return None
        low = 0.0
        for _ in range(_ROUNDS):
            middle = (low + high) / 2
            way = self.solve([middle * each for each in shared])
            if self._is_different(way, ways):
                found, high = way, middle
            else:
                low = middle
        return found

    def _shared(self, number: int, ways: Sequence[Fingering]) -> "Numbers":
        """For each grip of an event, how many struck notes it has in common with some ways."""
        import numpy as np

        taken = [self._struck(number, way.grips[number]) for way in ways]
        own = [self._struck(number, grip) for grip in self.tables[number].grips]
        return np.array(
            [sum(sum(a == b for a, b in zip(mine, other, strict=True)) for other in taken) for mine in own], dtype=float
        )

    def _struck(self, number: int, grip: Grip) -> list[tuple[int, ...]]:
        ties = self.events[number].ties
        notes = [note for note, (tie, _) in zip(grip.notes, ties, strict=True) if tie is not Tie.HELD]
        return [note if self.by_finger else note[:2] for note in notes]

    def _is_different(self, way: Fingering, ways: Sequence[Fingering]) -> bool:
        for other in ways:
            same = total = 0
            for number, (mine, theirs) in enumerate(zip(way.grips, other.grips, strict=True)):
                pairs = list(zip(self._struck(number, mine), self._struck(number, theirs), strict=True))
                same += sum(a == b for a, b in pairs)
                total += len(pairs)
            if total - same < max(1, DIFFERENT * total):
                return False
        return True
