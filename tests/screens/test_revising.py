"""The riff is written anew while it plays: place, loop and tempo stay, the other notes are heard, and none hangs."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.playback.recording_sink import unmatched
from tests.screens.music import RIG, TWIN, HandSink, machine
from tests.session.test_session import Stand, without_count_in
from trainer.arranging.realise import realise_exercise
from trainer.notation.read import read
from trainer.playback.event import Kind
from trainer.playback.piece import Loop
from trainer.session.actions import SetLoop, Start, Stop, UseMethod
from trainer.session.choices import Method
from trainer.session.music import LoadedExercise


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    sink = HandSink()
    made = Stand(machine(tmp_path, sink), sink)
    yield made
    made.it.close()


def loaded(text: str, riff: str = "Low gate") -> LoadedExercise:
    return LoadedExercise.of(realise_exercise(read(text, "salt-road.md")), riff, RIG)


SIXTH = TWIN.replace('"third above"', '"sixth above"')
ALONE = TWIN.replace('```harmony guitar 2\nfollows = "guitar 1"\ninterval = "third above"\n```', "")


def keys(stand: Stand, part: str) -> list[int]:
    channels = set(stand.sink.layout.of_part(part))
    return [each.one for each in stand.sink.done if each.kind is Kind.NOTE_ON and each.channel in channels]


def no_note_hangs(stand: Stand) -> None:
    stand.it.apply(Stop())
    stand.run(8)
    assert unmatched(stand.sink.done) == ([], [])


def test_another_harmony_is_heard_at_once_at_the_same_place_loop_and_tempo(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(SetLoop(Loop(1, 2)))
    stand.it.apply(Start())
    stand.run(5)
    place, answer = stand.it.playhead().place, keys(stand, "guitar 2")
    stand.it.revise(loaded(SIXTH), stand.it.state.loaded)
    assert stand.it.running and stand.it.state.loop == Loop(1, 2)
    assert stand.it.playhead().place == place
    stand.run(8)
    assert keys(stand, "guitar 2")[: len(answer)] == answer
    third = Counter(keys(stand, "guitar 2"))
    assert max(third) > max(answer)
    no_note_hangs(stand)


def test_a_part_that_was_not_there_comes_in_without_a_count_in(stand: Stand) -> None:
    stand.it.load(loaded(ALONE))
    without_count_in(stand)
    stand.it.apply(Start())
    stand.run(5)
    head = stand.it.playhead()
    stand.it.revise(loaded(TWIN), stand.it.state.loaded)
    stand.sink.done.clear()  # other channels: the sink was prepared anew, which ends everything
    stand.run(Fraction(1, 2))
    now = stand.it.playhead()
    assert now.playing and head.place < now.place < head.place + Fraction(1, 4)
    stand.run(4)
    assert keys(stand, "guitar 2")
    no_note_hangs(stand)


def test_a_part_that_comes_while_it_is_counted_in_waits_for_the_count_in(stand: Stand) -> None:
    stand.it.load(loaded(ALONE))
    stand.it.apply(Start())
    stand.run(2)
    stand.it.revise(loaded(TWIN), stand.it.state.loaded)
    stand.run(2)
    assert stand.it.playhead().counting_in
    assert stand.it.player.running


def test_bars_that_are_built_are_built_of_the_other_notes(stand: Stand) -> None:
    stand.it.apply(UseMethod(Method.FRONT))
    stand.it.apply(Start())
    stand.run(5)
    stand.it.revise(loaded(SIXTH), stand.it.state.loaded)
    stand.run(5)
    assert stand.it.state.loop == Loop(0, 0)
    no_note_hangs(stand)


def test_at_rest_it_is_there_when_the_playing_begins(stand: Stand) -> None:
    stand.it.revise(loaded(SIXTH), stand.it.state.loaded)
    without_count_in(stand)
    stand.it.apply(Start())
    stand.run(4)
    first = stand.it.state.loaded.piece.riffs[0].riff.tabs[1].bars[0]
    assert len(keys(stand, "guitar 2")) >= len(first) - 2


def test_what_was_put_on_meanwhile_stays(stand: Stand) -> None:
    before = stand.it.state.loaded
    stand.it.load(loaded(TWIN, "High gate"))
    assert not stand.it.revise(loaded(SIXTH), before)
    assert stand.it.state.loaded.riff == "High gate"


def test_a_patch_that_cannot_be_played_changes_nothing(stand: Stand) -> None:
    before = stand.it.state
    broken = loaded(TWIN)
    settings = replace(broken.exercise.settings("bass"), patch="no such patch")
    exercise = replace(broken.exercise, parts=(settings,))
    broken = replace(broken, exercise=exercise, piece=replace(broken.piece, exercise=exercise))
    with pytest.raises(Exception, match="no such patch"):
        stand.it.revise(broken, before.loaded)
    assert stand.it.state is before
