"""Read, write, read: what an exercise says survives; tidying changes no music."""

from fractions import Fraction

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.musical import exercises, meters
from trainer.music.exercise import Exercise
from trainer.music.meter import Meter
from trainer.music.riff import bar_starts
from trainer.notation.read import read
from trainer.notation.tidy import tidy
from trainer.notation.write import write

slow = settings(
    max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@slow
@given(exercises())
def test_what_is_written_reads_back_as_the_same_exercise(exercise: Exercise) -> None:
    text = write(exercise)
    assert read(text, "any.md") == exercise
    assert write(read(text, "any.md")) == text


@slow
@given(exercises(), st.randoms(use_true_random=False))
def test_tidy_changes_no_music_and_is_stable(exercise: Exercise, chance) -> None:
    text = write(exercise)
    # Untidy it as people do: filler dashes, columns that are wider than they need be.
    shaken = "\n".join(_shake(line, chance) for line in text.split("\n"))
    tidied = tidy(shaken, "any.md")
    assert read(tidied, "any.md") == exercise
    assert tidy(tidied, "any.md") == tidied


def _shake(line: str, chance) -> str:
    if "|" not in line or line.startswith(("chord", "tempo")):
        return line
    label, *bars, tail = line.split("|")
    return "|".join([label + " " * chance.randint(0, 3), *(bar + chance.choice(["", "-", "  "]) for bar in bars), tail])


@given(st.lists(meters, max_size=40))
def test_the_sum_of_any_bars_is_exact(bars: list[Meter]) -> None:
    assert bar_starts(tuple(bars))[-1] == sum((Fraction(m.counts, m.unit) for m in bars), Fraction(0))
