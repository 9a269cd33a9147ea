"""Simulated players through the whole way: exercise, performance with a known fault, take, verdict, ladder."""

from datetime import date
from random import Random

import pytest

from tests.listening.climbing import climbed
from tests.listening.sheets import Sheet, bundled_parts
from tests.listening.simulated import FAULTS, SOURCES, run
from trainer.practice.verdict import Outcome

DAY = date(2031, 5, 4)


@pytest.mark.parametrize("fault", FAULTS)
def test_the_sentence_names_the_fault(fault: str) -> None:
    items = [run(40 + number, fault, source) for number, source in enumerate(SOURCES)]
    assert sum(item.faulty.named(item.judged()) for item in items) >= 2


def test_a_clean_pass_is_blamed_for_nothing() -> None:
    items = [run(40 + number, "clean", source) for number, source in enumerate(SOURCES * 2)]
    assert sum(item.faulty.named(item.judged()) for item in items) >= 5


def test_a_ladder_led_by_takes_climbs_as_one_led_by_the_truth() -> None:
    exercise, riff, part = next(each for each in bundled_parts() if each[1].name == "Two lamps")
    way = climbed(Random(5), 16, Sheet(exercise, riff, part, (1, 4), riff.tempo.start))
    assert sum(told is played for told, played in way.passes) >= 15
    assert all(told is not Outcome.UNJUDGED for told, _ in way.passes)
    assert way.ladder.tempo_bpm != way.start_bpm
