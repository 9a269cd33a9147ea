"""The solver against a plain search through every chain, with costs counted anew from the hand's table."""

from collections.abc import Sequence
from itertools import product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.arranging.lines import GUITAR
from trainer.arranging.fingering import DIFFERENT, Event, NoGripError, Way, best_way, different_ways
from trainer.arranging.grip import Grip, Limits, Wanted, grips
from trainer.arranging.grip import places as places_of
from trainer.arranging.hand import STANDARD_HAND, Hand, fret_mm
from trainer.arranging.move_costs import Tie
from trainer.music.instrument import instrument

SMALL = instrument(("E3", "A3", "D4"), frets=9)


def line(*midis: int, seconds: float = 0.2) -> list[Event]:
    return [Event((Wanted(midi),), ((Tie.NONE, 0),), seconds) for midi in midis]


def places(way: Way) -> list[tuple[int, int]]:
    return [grip.notes[0][:2] for grip in way.grips]


def fingers(way: Way) -> list[int]:
    return [grip.notes[0][2] for grip in way.grips]


def span(grip: Grip, finger: int) -> tuple[int, int, int] | None:
    strings = [string for string, _, used in grip.notes if used == finger]
    fret = next((fret for _, fret, used in grip.notes if used == finger), 0)
    return (min(strings), max(strings), fret) if strings else None


def apart(a: tuple[int, ...], b: tuple[int, ...]) -> int:
    return max(b[0] - a[1], a[0] - b[1], 0)


def struck(grip: Grip, event: Event) -> tuple[int, int]:
    strings = [note[0] for note, (tie, _) in zip(grip.notes, event.ties, strict=True) if tie is not Tie.HELD]
    return min(strings), max(strings)


def move_cost(a: Grip, b: Grip, before: Event, event: Event, hand: Hand) -> float:
    """One move, counted by hand from what the table's docstrings say."""
    sliding = any(tie is Tie.SLIDE for tie, _ in event.ties)
    cost = 0.0
    if a.position != b.position:
        shift = hand.shift_each + hand.shift_per_mm * abs(fret_mm(SMALL, a.position) - fret_mm(SMALL, b.position))
        cost += shift * (1 + hand.hurry_s / event.seconds) * (hand.slide_share if sliding else 1)
    gap = apart(struck(a, before), struck(b, event))
    cost += hand.crossing * gap + hand.skipped * max(0, gap - 1)
    for finger in hand.fingers:
        old, new = span(a, finger), span(b, finger)
        if old and new and not sliding:
            away = bool(apart(old, new))
            cost += (hand.hop if away else hand.along) if old[2] != new[2] else hand.roll * away
    for string, fret, finger in a.notes:
        for other in b.notes:
            if finger and other[2] and other[:2] == (string, fret) and other[2] != finger:
                cost += hand.change_finger
    for new, (tie, source) in zip(b.notes, event.ties, strict=True):
        old = a.notes[source]
        if tie is Tie.HELD:
            cost += hand.broken * (old != new)
        if tie is Tie.SLIDE:
            cost += hand.broken * (old[0] != new[0] or old[2] != new[2] or new[2] == 0)
        if tie is Tie.HAMMER:
            busy = bool(old[2] and new[2]) and (old[2] == new[2] or a.position != b.position)
            cost += hand.broken * (old[0] != new[0] or busy)
    return cost


def chain_cost(chain: Sequence[Grip], events: Sequence[Event], hand: Hand) -> float:
    cost = sum(grip.cost for grip in chain)
    steps = zip(chain, chain[1:], events, events[1:], strict=False)
    return cost + sum(move_cost(a, b, before, event, hand) for a, b, before, event in steps)


def every_chain(events: Sequence[Event], hand: Hand = STANDARD_HAND) -> list[tuple[float, tuple[Grip, ...]]]:
    choices = [grips(event.wanted, SMALL, hand) for event in events]
    return [(chain_cost(chain, events, hand), chain) for chain in product(*choices)]


NOTES = st.integers(SMALL.open_midi(3) + 1, SMALL.open_midi(1) + 7)
TIES = st.sampled_from([Tie.NONE, Tie.NONE, Tie.NONE, Tie.HAMMER, Tie.SLIDE])
SECONDS = st.sampled_from([0.05, 0.1, 0.3, 1.0])
one_note = st.builds(
    lambda midi, tie, seconds, bend: Event((Wanted(midi, bend=bend),), ((tie, 0),), seconds),
    NOTES,
    TIES,
    SECONDS,
    st.sampled_from([0, 0, 0, 2]),
)
short_lines = st.lists(one_note, min_size=1, max_size=3)


@st.composite
def chord_pairs(draw: st.DrawFn) -> list[Event]:
    """Two or three notes together, then others, one of which may be held over."""
    low = draw(st.integers(53, 58))
    chord = [low, low + draw(st.integers(3, 8)), low + draw(st.integers(9, 12))][: draw(st.integers(2, 3))]
    first = Event(tuple(Wanted(midi) for midi in chord), ((Tie.NONE, 0),) * len(chord), 0.2)
    second = Event((Wanted(draw(NOTES)),), ((draw(TIES), draw(st.integers(0, len(chord) - 1))),), draw(SECONDS))
    if draw(st.booleans()):
        second = Event((*second.wanted, Wanted(chord[0])), (*second.ties, (Tie.HELD, 0)), second.seconds)
    return [first, second]


@given(chord_pairs())
@settings(max_examples=60, deadline=None)
def test_no_chain_of_chord_grips_is_cheaper(events: list[Event]) -> None:
    assume(all(grips(event.wanted, SMALL, STANDARD_HAND) for event in events))
    assert best_way(events, SMALL).cost == pytest.approx(min(cost for cost, _ in every_chain(events)))


@given(short_lines)
@settings(max_examples=60, deadline=None)
def test_no_chain_of_grips_is_cheaper(events: list[Event]) -> None:
    cheapest = min(cost for cost, _ in every_chain(events))
    found = best_way(events, SMALL)
    assert found.cost == pytest.approx(cheapest)
    assert chain_cost(found.grips, events, STANDARD_HAND) == pytest.approx(cheapest)


@given(short_lines)
@settings(max_examples=25, deadline=None)
def test_a_second_way_is_the_cheapest_that_differs_as_much(events: list[Event]) -> None:
    ways = different_ways(events, SMALL, 2)
    by_finger = all(len(places_of(event.wanted[0], SMALL)) == 1 for event in events)

    def differing(chain: Sequence[Grip]) -> int:
        size = 3 if by_finger else 2
        return sum(a.notes[0][:size] != b.notes[0][:size] for a, b in zip(chain, ways[0].grips, strict=True))

    needed = max(1, DIFFERENT * len(events))
    if len(ways) == 1:
        assert all(differing(chain) < needed for _, chain in every_chain(events))
        return
    count = differing(ways[1].grips)
    assert count >= needed
    cheapest = min(cost for cost, chain in every_chain(events) if differing(chain) >= count)
    assert ways[1].cost == pytest.approx(cheapest)


def test_a_scale_in_one_position_takes_a_finger_a_fret() -> None:
    found = best_way(line(69, 70, 71, 72), GUITAR, limits=Limits(strings=(1, 1)))
    assert fingers(found) == [1, 2, 3, 4]
    assert set(found.positions) == {5}


def test_haste_makes_a_shift_dearer() -> None:
    slow, fast = (
        best_way(line(69, 86, 69, 86, seconds=seconds), GUITAR, limits=Limits(strings=(1, 1))) for seconds in (1, 0.05)
    )
    assert fast.cost > 1.5 * slow.cost


def test_haste_can_change_the_way() -> None:
    """With time the hand slides up one string; without, it stays and crosses."""
    melody = (64, 69, 74, 69)
    slow, fast = (best_way(line(*melody, seconds=seconds), GUITAR, limits=Limits(near=7)) for seconds in (5, 0.03))
    assert len(set(fast.positions)) <= len(set(slow.positions))


def test_a_bend_takes_the_third_finger() -> None:
    bent = [Event((Wanted(72, (2, 13), bend=2),), ((Tie.NONE, 0),))]
    assert fingers(best_way(bent, GUITAR)) == [3]


def test_written_places_and_fingers_are_kept() -> None:
    written = [Event((Wanted(64, (5, 19), 4),), ((Tie.NONE, 0),)), *line(66)]
    found = best_way(written, GUITAR)
    assert found.grips[0].notes == ((5, 19, 4),)
    assert found.grips[1].notes[0][0] in (4, 5)  # the next note stays near


def test_limits_keep_strings_frets_and_open_strings_away() -> None:
    melody = line(64, 66, 67, 69)
    assert all(string <= 3 for string, _ in places(best_way(melody, GUITAR, limits=Limits(strings=(1, 3)))))
    found = best_way(melody, GUITAR, limits=Limits(avoid_open=True, strings=(1, 2)))
    assert all(fret > 0 for _, fret in places(found))
    found = best_way(melody, GUITAR, limits=Limits(frets=(7, 10)))
    assert all(7 <= fret <= 10 for _, fret in places(found))
    three = best_way(line(69, 70, 71, 72, 73), GUITAR, Hand(fingers=(1, 2, 3)))
    assert 4 not in fingers(three)


def test_a_six_string_barre_chord_has_its_usual_grip() -> None:
    chord = (Event(tuple(Wanted(midi) for midi in (41, 48, 53, 57, 60, 65)), ((Tie.NONE, 0),) * 6),)
    found = best_way(chord, GUITAR).grips[0]
    assert found.notes == ((6, 1, 1), (5, 3, 3), (4, 3, 4), (3, 2, 2), (2, 1, 1), (1, 1, 1))


def test_a_power_chord_takes_index_ring_and_little_finger() -> None:
    chord = (Event(tuple(Wanted(midi) for midi in (45, 52, 57)), ((Tie.NONE, 0),) * 3),)
    found = best_way(chord, GUITAR, limits=Limits(avoid_open=True))
    assert found.grips[0].notes == ((6, 5, 1), (5, 7, 3), (4, 7, 4))


def test_an_impossible_stretch_is_shown() -> None:
    chord = (Event((Wanted(41, (6, 1)), Wanted(54, (5, 9))), ((Tie.NONE, 0),) * 2),)
    assert best_way(chord, GUITAR).grips[0].beyond_reach


def test_a_note_the_neck_lacks_is_named() -> None:
    with pytest.raises(NoGripError) as caught:
        best_way(line(64, 30), GUITAR)
    assert caught.value.event == 1


def test_a_ringing_note_is_held() -> None:
    first = Event((Wanted(48, (5, 3)),), ((Tie.NONE, 0),))
    second = Event((Wanted(52, (4, 2)), Wanted(48, (5, 3))), ((Tie.NONE, 0), (Tie.HELD, 0)))
    found = best_way([first, second], GUITAR)
    assert found.grips[0].notes[0] == found.grips[1].notes[1]


def test_different_ways_are_different_and_in_order() -> None:
    ways = different_ways(line(64, 66, 67, 69, 71, 72, 74, 76), GUITAR, 4)
    assert len(ways) == 4
    assert [way.cost for way in ways] == sorted(way.cost for way in ways)
    for index, way in enumerate(ways):
        for other in ways[:index]:
            assert sum(a != b for a, b in zip(places(way), places(other), strict=True)) >= 2


def test_nothing_to_play_costs_nothing() -> None:
    assert best_way((), GUITAR) == Way((), 0.0)
