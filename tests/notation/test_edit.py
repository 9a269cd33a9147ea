"""One block written anew, and nothing else changed."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.musical import exercises
from tests.notation.iron import IRON
from trainer.music.exercise import Exercise
from trainer.music.part import HarmonyPart
from trainer.notation.edit import put_block
from trainer.notation.read import read
from trainer.notation.write import harmony_text, tab_lines, write

HARMONY = ['follows = "guitar 1"', 'interval = "sixth above"']


def test_a_block_is_replaced_where_it_stands() -> None:
    changed = put_block(IRON, "Signal fires", "harmony", "guitar 2", HARMONY)
    assert changed == IRON.replace('"third below"', '"sixth above"')


def test_a_new_part_comes_after_the_riffs_last_block() -> None:
    changed = put_block(IRON, "Low road", "harmony", "guitar 2", HARMONY)
    assert [riff.part_names for riff in read(changed).riffs] == [
        ("guitar 1", "drums", "guitar 2"),
        ("guitar 1", "guitar 2"),
    ]
    assert changed.replace("\n\n```harmony guitar 2\n" + "\n".join(HARMONY) + "\n```", "", 1) == IRON


def test_a_riff_that_is_not_there() -> None:
    with pytest.raises(ValueError, match="High road"):
        put_block(IRON, "High road", "harmony", "guitar 2", HARMONY)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(exercises(), st.data())
def test_writing_a_part_over_itself_changes_no_music(exercise: Exercise, data: st.DataObject) -> None:
    riff = data.draw(st.sampled_from(exercise.riffs))
    part = data.draw(st.sampled_from(riff.parts))
    if isinstance(part, HarmonyPart):
        kind, content = "harmony", harmony_text(part, riff).rstrip("\n").split("\n")
    else:
        marks = riff.tempo_marks if part is riff.parts[0] else ()
        kind, content = "tab", tab_lines(part, riff, marks)
    text = write(exercise)
    assert put_block(text, riff.name, kind, part.name, content) == text
