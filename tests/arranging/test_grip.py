"""Grips against their rules: every string, fret, finger and position is tried, and the rules are asked one by one."""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.arranging.grip import Grip, Limits, WantedNote, grips, places
from trainer.arranging.hand import STANDARD_HAND, fret_mm
from trainer.music.instrument import Instrument, instrument

NECK = instrument(("E3", "A3", "D4"), frets=12)
HAND = STANDARD_HAND


def allowed(notes: tuple[tuple[int, int, int], ...], position: int, neck: Instrument) -> bool:
    """Whether a hand may hold this, rule by rule."""
    strings = [string for string, *_ in notes]
    if len(set(strings)) < len(strings):
        return False
    fretted = [note for note in notes if note[1]]
    if any((finger == 0) != (fret == 0) for _, fret, finger in notes):
        return False
    for one, two in product(fretted, repeat=2):
        (string, fret, finger), (other, place, used) = one, two
        if finger < used and (fret > place or (fret == place and string < other)):
            return False
        if finger == used and fret != place:
            return False
        if finger == used and any(min(string, other) < s < max(string, other) and f < fret for s, f, _ in notes):
            return False
    for _, fret, finger in fretted:
        if finger > 1 and fret_mm(neck, fret) - fret_mm(neck, position) > HAND.reach_mm[finger - 2]:
            return False
    used_fingers = {(finger, fret) for _, fret, finger in fretted}
    if not used_fingers:
        return 1 <= position <= neck.last_fret
    if len(used_fingers) == 1:
        ((finger, fret),) = used_fingers
        beyond = fret - (position + finger - 1)
        natural = beyond in (0, -1) if finger == 1 else beyond >= 0
        at_nut = position == 1 and fret < finger
        return 1 <= position <= neck.last_fret and (natural or at_nut)
    lowest = min(used_fingers)
    return position == max(1, lowest[1] - lowest[0] + 1)


def by_hand(midis: list[int], neck: Instrument) -> set[tuple[tuple[tuple[int, int, int], ...], int]]:
    everywhere = [
        [(string, fret, finger) for string, fret in neck.places(midi) for finger in range(5)] for midi in midis
    ]
    return {
        (notes, position)
        for notes in product(*everywhere)
        for position in range(1, neck.last_fret + 1)
        if allowed(notes, position, neck)
    }


def told(found: tuple[Grip, ...]) -> set[tuple[tuple[tuple[int, int, int], ...], int]]:
    return {(grip.notes, grip.position) for grip in found}


@given(st.lists(st.integers(52, 74), min_size=1, max_size=2, unique=True))
@settings(max_examples=40, deadline=None)
def test_the_grips_are_those_that_the_rules_allow(midis: list[int]) -> None:
    expected = by_hand(midis, NECK)
    found = grips(tuple(WantedNote(midi) for midi in midis), NECK, HAND)
    if expected:
        assert told(found) == expected
        assert not any(grip.beyond_reach for grip in found)
    else:
        assert all(grip.beyond_reach for grip in found)


def test_three_notes_together_too() -> None:
    midis = [57, 60, 64]
    assert told(grips(tuple(WantedNote(midi) for midi in midis), NECK, HAND)) == by_hand(midis, NECK)


def test_every_grip_comes_once() -> None:
    found = grips((WantedNote(57), WantedNote(60), WantedNote(64)), NECK, HAND)
    assert len(found) == len(told(found))


def test_a_barre_may_not_lie_over_a_lower_fret() -> None:
    inner_open = (WantedNote(55, (3, 3)), WantedNote(57, (2, 0)), WantedNote(65, (1, 3)))
    assert not any(grip.notes[0][2] == grip.notes[2][2] for grip in grips(inner_open, NECK, HAND))


def test_limits_bind_what_is_free_and_not_what_is_written() -> None:
    low = Limits(strings=(2, 3), frets=(2, 7))
    assert all(string in (2, 3) and 2 <= fret <= 7 for string, fret in places(WantedNote(62), NECK, low))
    assert places(WantedNote(74, (1, 12)), NECK, low) == ((1, 12),)
    assert (2, 0) in places(WantedNote(57), NECK, low)  # open strings are exempt from the frets


def test_what_bends_or_shakes_is_not_open() -> None:
    assert (2, 0) not in places(WantedNote(57, bend=2), NECK)
    assert (2, 0) not in places(WantedNote(57, vibrato=True), NECK)


@pytest.mark.parametrize("midi", [40, 90])
def test_a_note_the_neck_lacks_has_no_grip(midi: int) -> None:
    assert grips((WantedNote(midi),), NECK, HAND) == ()


def test_twelve_notes_on_twelve_strings_end_in_time() -> None:
    """What only a hostile file asks for is given up, not searched for ever."""
    wide = instrument(("E3",) * 12, frets=36)
    assert grips(tuple(WantedNote(midi) for midi in range(52, 64)), wide, HAND) == ()
