"""The fifty passages with hand-written answers: how much of each kind the program must get right."""

from collections.abc import Callable

import pytest

from tests.arranging.passages import LINES, PASSAGES, Passage
from tests.arranging.passages_right import SCORES, Score, chords

BOUNDS = {
    "modes": 0.95,
    "chord roots": 0.95,
    "chord qualities": 0.9,
    "roles": 0.9,
    "figures": 0.9,
    "strokes": 0.9,
    "fingerings": 0.85,
}
"""The share that must be right."""


@pytest.mark.parametrize("what", BOUNDS)
def test_most_answers_are_those_of_a_teacher(what: str) -> None:
    found = _total(SCORES[what])
    assert found.asked >= 7
    assert found.right / found.asked >= BOUNDS[what], found.wrong


def _total(score: Callable[[Passage], Score]) -> Score:
    total = Score()
    for passage in PASSAGES:
        total = total + score(passage)
    return total


def test_no_chord_is_made_up_where_none_is_played() -> None:
    free = [passage for passage in LINES if passage.chords]
    assert len(free) >= 20
    assert {passage.name: row for passage in free if any(row := chords(passage))} == {}


def test_there_are_fifty_passages_with_names_of_their_own() -> None:
    assert len({passage.name for passage in PASSAGES}) == 50
