"""The solver against a plain search through every chain, with costs counted anew from the hand's table."""

from collections.abc import Sequence
from itertools import product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.arranging.lines import GUITAR
from trainer.arranging.fingering import (
    DIFFERENT,
    Fingering,
    HandMoment,
    NoGripError,
    best_fingering,
    different_fingerings,
)
from trainer.arranging.grip import Grip, Limits, WantedNote, grips
from trainer.arranging.grip import places as places_of
from trainer.arranging.hand import STANDARD_HAND, Hand, fret_mm
from trainer.arranging.move_costs import Tie
from trainer.music.instrument import instrument

SMALL = instrument(("E3", "A3", "D4"), frets=9)


def line(*midis: int, seconds: float = 0.2) -> list[HandMoment]:
    return [HandMoment((WantedNote(midi),), ((Tie.NONE, 0),), seconds) for midi in midis]


def places(way: Fingering) -> list[tuple[int, int]]:
    return [grip.notes[0][:2] for grip in way.grips]


def fingers(way: Fingering) -> list[int]:
    return [grip.notes[0][2] for grip in way.grips]


def span(grip: Grip, finger: int) -> tuple[int, int, int] | None:
    strings = [string for string, _, used in grip.notes if used == finger]
    fret = next((fret for _, fret, used in grip.notes if used == finger), 0)
    return (min(strings), max(strings), fret) if strings else None


def shape(grip: Grip) -> list[tuple[int, int]]:
    """Where each note lies from the first one: strings and frets away."""
    string, fret, _ = grip.notes[0]
    return [(each[0] - string, each[1] - fret) for each in grip.notes]


def fretted(grip: Grip) -> bool:
    return all(finger for *_, finger in grip.notes)


def apart(a: tuple[int, ...], b: tuple[int, ...]) -> int:
    return max(b[0] - a[1], a[0] - b[1], 0)


def struck(grip: Grip, event: HandMoment) -> tuple[int, int]:
    strings = [note[0] for note, (tie, _) in zip(grip.notes, event.ties, strict=True) if tie is not Tie.HELD]
    return min(strings), max(strings)


def move_cost(a: Grip, b: Grip, before: HandMoment, event: HandMoment, hand: Hand) -> float:
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
    several = len({finger for *_, finger in a.notes}) > 1
    if len(b.notes) > 1 and shape(a) == shape(b) and fretted(a) and fretted(b) and several:
        cost += hand.change_shape * ([note[2] for note in a.notes] != [note[2] for note in b.notes])
    for new, (tie, source) in zip(b.notes, event.ties, strict=True):
        old = a.notes[source]
        if tie is Tie.HELD:
            cost += hand.broken * (old != new)
        if tie is Tie.SLIDE:
            cost += hand.broken * (old[0] != new[0] or old[2] != new[2] or new[2] == 0)
            cost += hand.slide[new[2] - 1] if new[2] else 0.0
        if tie is Tie.HAMMER:
            busy = bool(old[2] and new[2]) and (old[2] == new[2] or a.position != b.position)
            cost += hand.broken * (old[0] != new[0] or busy)
            low, high = sorted((old[2], new[2]))
            if 0 < low < high:
                apart_mm = abs(fret_mm(SMALL, old[1]) - fret_mm(SMALL, new[1]))
                cost += hand.spread_per_mm * max(0.0, apart_mm - hand.spans_mm[low - 1][high - low - 1])
    return cost


def chain_cost(chain: Sequence[Grip], events: Sequence[HandMoment], hand: Hand) -> float:
    cost = sum(grip.cost for grip in chain)
    steps = zip(chain, chain[1:], events, events[1:], strict=False)
    return cost + sum(move_cost(a, b, before, event, hand) for a, b, before, event in steps)


def every_chain(events: Sequence[HandMoment], hand: Hand = STANDARD_HAND) -> list[tuple[float, tuple[Grip, ...]]]:
    choices = [grips(event.wanted, SMALL, hand) for event in events]
    return [(chain_cost(chain, events, hand), chain) for chain in product(*choices)]


NOTES = st.integers(SMALL.open_midi(3) + 1, SMALL.open_midi(1) + 7)
TIES = st.sampled_from([Tie.NONE, Tie.NONE, Tie.NONE, Tie.HAMMER, Tie.SLIDE])
SECONDS = st.sampled_from([0.05, 0.1, 0.3, 1.0])
one_note = st.builds(
    lambda midi, tie, seconds, bend: HandMoment((WantedNote(midi, bend=bend),), ((tie, 0),), seconds),
    NOTES,
    TIES,
    SECONDS,
    st.sampled_from([0, 0, 0, 2]),
)
short_lines = st.lists(one_note, min_size=1, max_size=3)


@st.composite
def chord_pairs(draw: st.DrawFn) -> list[HandMoment]:
    """Two or three notes together, then others, one of which may be held over."""
    low = draw(st.integers(53, 58))
    chord = [low, low + draw(st.integers(3, 8)), low + draw(st.integers(9, 12))][: draw(st.integers(2, 3))]
    first = HandMoment(tuple(WantedNote(midi) for midi in chord), ((Tie.NONE, 0),) * len(chord), 0.2)
    second = HandMoment(
        (WantedNote(draw(NOTES)),), ((draw(TIES), draw(st.integers(0, len(chord) - 1))),), draw(SECONDS)
    )
    if draw(st.booleans()):
        second = HandMoment((*second.wanted, WantedNote(chord[0])), (*second.ties, (Tie.HELD, 0)), second.seconds)
    return [first, second]


@given(chord_pairs())
@settings(max_examples=60, deadline=None)
def test_no_chain_of_chord_grips_is_cheaper(events: list[HandMoment]) -> None:
    assume(all(grips(event.wanted, SMALL, STANDARD_HAND) for event in events))
    assert best_fingering(events, SMALL).cost == pytest.approx(min(cost for cost, _ in every_chain(events)))


@given(short_lines)
@settings(max_examples=60, deadline=None)
def test_no_chain_of_grips_is_cheaper(events: list[HandMoment]) -> None:
    cheapest = min(cost for cost, _ in every_chain(events))
    found = best_fingering(events, SMALL)
    assert found.cost == pytest.approx(cheapest)
    assert chain_cost(found.grips, events, STANDARD_HAND) == pytest.approx(cheapest)


@given(short_lines)
@settings(max_examples=25, deadline=None)
def test_a_second_way_is_the_cheapest_that_differs_as_much(events: list[HandMoment]) -> None:
    ways = different_fingerings(events, SMALL, 2)
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
    found = best_fingering(line(69, 70, 71, 72), GUITAR, limits=Limits(strings=(1, 1)))
    assert fingers(found) == [1, 2, 3, 4]
    assert set(found.positions) == {5}


def test_haste_makes_a_shift_dearer() -> None:
    slow, fast = (
        best_fingering(line(69, 86, 69, 86, seconds=seconds), GUITAR, limits=Limits(strings=(1, 1)))
        for seconds in (1, 0.05)
    )
    assert fast.cost > 1.5 * slow.cost


def test_haste_can_change_the_way() -> None:
    """With time the hand slides up one string; without, it stays and crosses."""
    melody = (64, 69, 74, 69)
    slow, fast = (
        best_fingering(line(*melody, seconds=seconds), GUITAR, limits=Limits(near=7)) for seconds in (5, 0.03)
    )
    assert len(set(fast.positions)) <= len(set(slow.positions))


def test_a_bend_takes_the_third_finger() -> None:
    bent = [HandMoment((WantedNote(72, (2, 13), bend=2),), ((Tie.NONE, 0),))]
    assert fingers(best_fingering(bent, GUITAR)) == [3]


def test_written_places_and_fingers_are_kept() -> None:
    written = [HandMoment((WantedNote(64, (5, 19), 4),), ((Tie.NONE, 0),)), *line(66)]
    found = best_fingering(written, GUITAR)
    assert found.grips[0].notes == ((5, 19, 4),)
    assert found.grips[1].notes[0][0] in (4, 5)  # the next note stays near


def test_limits_keep_strings_frets_and_open_strings_away() -> None:
    melody = line(64, 66, 67, 69)
    assert all(string <= 3 for string, _ in places(best_fingering(melody, GUITAR, limits=Limits(strings=(1, 3)))))
    found = best_fingering(melody, GUITAR, limits=Limits(avoid_open=True, strings=(1, 2)))
    assert all(fret > 0 for _, fret in places(found))
    found = best_fingering(melody, GUITAR, limits=Limits(frets=(7, 10)))
    assert all(7 <= fret <= 10 for _, fret in places(found))
    three = best_fingering(line(69, 70, 71, 72, 73), GUITAR, Hand(fingers=(1, 2, 3)))
    assert 4 not in fingers(three)


def test_a_six_string_barre_chord_has_its_usual_grip() -> None:
    chord = (HandMoment(tuple(WantedNote(midi) for midi in (41, 48, 53, 57, 60, 65)), ((Tie.NONE, 0),) * 6),)
    found = best_fingering(chord, GUITAR).grips[0]
    assert found.notes == ((6, 1, 1), (5, 3, 3), (4, 3, 4), (3, 2, 2), (2, 1, 1), (1, 1, 1))


def test_a_power_chord_takes_index_ring_and_little_finger() -> None:
    chord = (HandMoment(tuple(WantedNote(midi) for midi in (45, 52, 57)), ((Tie.NONE, 0),) * 3),)
    found = best_fingering(chord, GUITAR, limits=Limits(avoid_open=True))
    assert found.grips[0].notes == ((6, 5, 1), (5, 7, 3), (4, 7, 4))


def written(*places_: tuple[int, int], tie: Tie = Tie.NONE) -> list[HandMoment]:
    """Single notes whose places are decided, sixteenths at 150 bpm; each but the first hangs on the one before."""
    notes = [WantedNote(GUITAR.midi(string, fret), (string, fret)) for string, fret in places_]
    return [HandMoment((note,), ((tie if number else Tie.NONE, 0),), 0.1) for number, note in enumerate(notes)]


def power_chord(fret: int) -> HandMoment:
    """A root on the thick string and its fifth, a sixteenth at 150 bpm after what was before."""
    notes = (WantedNote(GUITAR.midi(6, fret), (6, fret)), WantedNote(GUITAR.midi(5, fret + 2), (5, fret + 2)))
    return HandMoment(notes, ((Tie.NONE, 0),) * 2, 0.1)


def test_a_power_chord_comes_back_after_the_open_string_with_its_own_fingers() -> None:
    gallop = written((6, 0), (6, 0))
    found = best_fingering([power_chord(3), *gallop, power_chord(5), *gallop, power_chord(8), *gallop], GUITAR)
    assert {tuple(note[2] for note in grip.notes) for grip in found.grips if len(grip.notes) > 1} == {(1, 3)}


def test_the_hand_has_the_time_of_the_open_strings_for_its_shift() -> None:
    hurried, gallop = (
        best_fingering([*written((6, 1)), *between, *written((6, 12))], GUITAR).cost
        for between in (written((6, 2)), written((6, 0)))
    )
    assert gallop < hurried


def test_open_strings_before_and_after_cost_what_they_cost_alone() -> None:
    alone = best_fingering(written((6, 3)), GUITAR).cost
    opened = best_fingering(written((6, 0), (6, 3), (6, 0), (6, 0)), GUITAR)
    assert opened.cost == pytest.approx(alone + 3 * STANDARD_HAND.open_string)
    assert best_fingering(written((6, 0), (6, 0)), GUITAR).cost == pytest.approx(2 * STANDARD_HAND.open_string)


def test_a_slide_leaves_the_little_finger_out() -> None:
    found = best_fingering([*written((3, 7)), *written((3, 7), (3, 9), tie=Tie.SLIDE)[1:]], GUITAR)
    assert fingers(found)[0] == fingers(found)[1] != 4


@pytest.mark.parametrize("frets", [(12, 15, 19), (9, 12, 15)])
def test_a_wide_slur_high_up_is_within_the_hand(frets: tuple[int, int, int]) -> None:
    found = best_fingering(written(*((1, fret) for fret in frets), tie=Tie.HAMMER), GUITAR)
    assert found.cost < STANDARD_HAND.broken
    assert len(set(found.positions)) == 1
    assert fingers(found) in ([1, 2, 4], [1, 3, 4])


def test_a_slur_wider_than_the_hand_is_told() -> None:
    assert best_fingering(written((1, 1), (1, 8), tie=Tie.HAMMER), GUITAR).cost > STANDARD_HAND.broken


def test_one_finger_bars_three_strings_rather_than_two_fingers_in_one_fret() -> None:
    drop = instrument(("D2", "A2", "D3", "G3", "B3", "E4"))
    chord = tuple(WantedNote(drop.midi(string, 5), (string, 5)) for string in (6, 5, 4))
    assert (
        len({note[2] for note in best_fingering([HandMoment(chord, ((Tie.NONE, 0),) * 3)], drop).grips[0].notes}) == 1
    )


def test_an_impossible_stretch_is_shown() -> None:
    chord = (HandMoment((WantedNote(41, (6, 1)), WantedNote(54, (5, 9))), ((Tie.NONE, 0),) * 2),)
    assert best_fingering(chord, GUITAR).grips[0].beyond_reach


def test_a_note_the_neck_lacks_is_named() -> None:
    with pytest.raises(NoGripError) as caught:
        best_fingering(line(64, 30), GUITAR)
    assert caught.value.event == 1


def test_a_ringing_note_is_held() -> None:
    first = HandMoment((WantedNote(48, (5, 3)),), ((Tie.NONE, 0),))
    second = HandMoment((WantedNote(52, (4, 2)), WantedNote(48, (5, 3))), ((Tie.NONE, 0), (Tie.HELD, 0)))
    found = best_fingering([first, second], GUITAR)
    assert found.grips[0].notes[0] == found.grips[1].notes[1]


def test_different_ways_are_different_and_in_order() -> None:
    ways = different_fingerings(line(64, 66, 67, 69, 71, 72, 74, 76), GUITAR, 4)
    assert len(ways) == 4
    assert [way.cost for way in ways] == sorted(way.cost for way in ways)
    for index, way in enumerate(ways):
        for other in ways[:index]:
            assert sum(a != b for a, b in zip(places(way), places(other), strict=True)) >= 2


def test_nothing_to_play_costs_nothing() -> None:
    assert best_fingering((), GUITAR) == Fingering((), 0.0)
