"""Whatever can be written can be computed with, or is refused in sentences: never a traceback."""

from contextlib import suppress
from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.arranging.lines import harmony
from tests.arranging.test_bundled_exercises import pitches
from tests.musical import exercises, keys
from trainer.arranging.demand import demand
from trainer.arranging.demand_words import demand_sentences
from trainer.arranging.explain import explain
from trainer.arranging.fingered import finger
from trainer.arranging.moving import TUNINGS, Move, move
from trainer.arranging.plain_data import plain_data
from trainer.arranging.realise import harmony_problems, realise, realise_exercise
from trainer.arranging.sentences import sentences
from trainer.arranging.strokes import Picking, crossings, strokes, with_strokes
from trainer.music.exercise import Exercise
from trainer.music.key import Key
from trainer.music.problem import ProblemsError
from trainer.notation.read import read
from trainer.notation.write import write

slow = settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@slow
@given(exercises())
def test_any_riff_is_explained_fingered_and_measured(exercise: Exercise) -> None:
    for written in exercise.riffs:
        riff = written
        with suppress(ProblemsError):
            riff = realise(written, "any.md")
        found = explain(replace(riff, parts=tuple(part for part in riff.parts if part not in riff.harmonies)))
        assert all(one.text.endswith(".") for one in sentences(found, riff))
        plain_data(found)
        for part in riff.tabs:
            fingered = finger(part, riff)
            assert pitches(fingered.part) == pitches(part)
            assert demand_sentences(demand(part, riff), riff)
            for picking in Picking:
                crossings(strokes(part, riff, picking))
            assert pitches(with_strokes(part, riff)) == pitches(part)
            with suppress(ProblemsError):
                assert pitches(finger(part, riff, anew=True).part) == pitches(part)


@slow
@given(
    exercises(),
    st.sampled_from(["third above", "sixth below", "octave above", "perfect fourth above"]),
    st.booleans(),
    st.sampled_from([(), ("chord",), ("guitar 1",)]),
)
def test_any_line_is_answered_or_refused(exercise: Exercise, interval: str, contrary: bool, avoid: tuple[str]) -> None:
    for riff in exercise.riffs:
        for line in riff.tabs:
            known = tuple(name for name in avoid if name == "chord" or name in riff.part_names)
            part = harmony(interval, "the answer", line.name, contrary=contrary, avoid=known)
            asked = replace(riff, parts=(*(p for p in riff.parts if p not in riff.harmonies), part))
            problems = harmony_problems(asked)
            try:
                found = realise(asked).part("the answer")
            except ProblemsError:
                continue
            assert not problems
            assert found is not None
            assert [[m.offset for m in bar] for bar in found.bars] == [  # type: ignore[union-attr]
                [m.offset for m in bar if m.notes or m.rest] for bar in line.bars
            ]


@slow
@given(exercises(), keys, st.sampled_from([None, *TUNINGS.values()]), st.sampled_from([None, 0, 2]))
def test_any_exercise_is_moved_or_refused(
    exercise: Exercise, key: Key, tuning: tuple[str, ...] | None, capo: int | None
) -> None:
    try:
        found = move(exercise, Move(key, tuning, capo), "any.md")
    except ProblemsError:
        assume(False)
        return
    assert read(write(found), "any.md") == found


@slow
@given(exercises())
def test_realising_twice_changes_nothing_more(exercise: Exercise) -> None:
    try:
        once = realise_exercise(exercise)
    except ProblemsError:
        assume(False)
        return
    assert realise_exercise(once) is once
