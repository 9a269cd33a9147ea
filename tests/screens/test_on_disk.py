"""A pass is on disk before the next one sounds, with the word that was said of it, and the next one follows that."""

import sqlite3
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from tests.open_logs import closed_later
from tests.screens.music import Days, HandSink, machine
from tests.session.test_session import Stand, without_count_in
from trainer.playback.event import Event, Kind
from trainer.playback.piece import Loop
from trainer.playback.stretch import LATEST
from trainer.practice.log import Log
from trainer.practice.verdict import Outcome
from trainer.session.actions import Hear, SetClick, SetLoop, SetTempo, Start, Stop, ToggleSwapping, UseMethod
from trainer.session.choices import Method


class Observed(HandSink):
    """A sink that looks into the log, through a connection of its own, as each note and click begins to sound."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._db = sqlite3.connect(path)
        self.seen: dict[int, int] = {}
        """By the frame of an onset: how many passes are on disk."""

    def begins(self, event: Event) -> None:
        if event.kind in (Kind.NOTE_ON, Kind.CLICK):
            self.seen[event.frame] = self._db.execute("SELECT count(*) FROM passes").fetchone()[0]

    def outcomes(self) -> list[str]:
        return [outcome for (outcome,) in self._db.execute("SELECT outcome FROM passes ORDER BY id")]

    def close(self) -> None:
        super().close()
        self._db.close()


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    log = closed_later(Log.open(tmp_path / "log.sqlite", now=Days(), sitting="6" * 32))
    sink = Observed(tmp_path / "log.sqlite")
    made = Stand(machine(tmp_path, sink, log=log), sink)
    without_count_in(made)
    made.it.apply(SetLoop(Loop(0, 0)))
    yield made
    made.it.close()
    log.close()


def sink_of(stand: Stand) -> Observed:
    assert isinstance(stand.sink, Observed)
    return stand.sink


def to_before_the_end(stand: Stand, milliseconds: int) -> None:
    """Play to so long before the end of the pass."""
    position = stand.it.player.position()
    assert position is not None and position.began is not None
    end = position.began + Fraction(4 * 60 * stand.sink.rate) / position.tempo_bpm
    left = end - stand.sink.now() - milliseconds * stand.sink.rate // 1000
    stand.run(left * position.tempo_bpm / 60 / stand.sink.rate, position.tempo_bpm, step=240)


def test_at_the_downbeat_of_the_next_pass_the_one_before_is_on_disk(stand: Stand) -> None:
    stand.it.apply(SetTempo(Fraction(190)))
    stand.it.apply(Start())
    stand.run(4 * 12, 190, step=960)
    sink = sink_of(stand)
    begin, length = min(sink.seen), Fraction(4 * 60 * sink.rate, 190)
    passes = {frame: int((frame - begin + 1) / length) for frame in sink.seen}
    assert max(passes.values()) == 11
    assert [frame for frame, number in passes.items() if sink.seen[frame] < number] == []
    downbeats = [frame for frame, number in passes.items() if round(begin + number * length) - frame in (-1, 0, 1)]
    assert [sink.seen[frame] for frame in downbeats] == list(range(12))


def test_a_word_said_when_the_next_pass_is_made_already_is_logged_with_this_one_and_the_next_follows_it(
    stand: Stand,
) -> None:
    stand.it.apply(UseMethod(Method.LADDER))
    first = stand.it.state.tempo_bpm
    stand.it.apply(Start())
    for _ in range(3):
        stand.run(3, first)
        to_before_the_end(stand, 150)  # the look-ahead is 272 ms
        assert stand.said(Outcome.CLEAN).startswith("Pass ")
        stand.run(Fraction(1, 2), first)
    assert sink_of(stand).outcomes() == ["clean"] * 3
    climbed = stand.it.state.tempo_bpm
    assert climbed > first
    stand.run(4, climbed)
    assert [tempo for _, tempo, *_ in stand.logged()] == [first] * 3 + [climbed]


def test_a_word_said_after_it_counted_and_before_it_ends_amends_it_and_the_next_follows_still(stand: Stand) -> None:
    stand.it.apply(UseMethod(Method.LADDER))
    first = stand.it.state.tempo_bpm
    stand.it.apply(Start())
    to_before_the_end(stand, 45)
    assert sink_of(stand).outcomes() == ["unjudged"]
    assert stand.said(Outcome.MISSED).startswith("Pass ")
    assert sink_of(stand).outcomes() == ["missed"]
    fallen = stand.it.state.tempo_bpm
    assert fallen < first
    stand.run(5, fallen)
    assert [(outcome, tempo) for outcome, tempo, *_ in stand.logged()] == [("missed", first), ("unjudged", fallen)]


def test_a_word_that_comes_too_late_for_the_next_pass_says_why_that_one_does_not_move_the_ladder(stand: Stand) -> None:
    stand.it.apply(UseMethod(Method.LADDER))
    first = stand.it.state.tempo_bpm
    stand.it.apply(Start())
    stand.run(5, first)
    said = stand.said(Outcome.MISSED)
    rung = stand.it.state.tempo_bpm
    assert said == f"Pass 1: missed. Next: {float(rung):g} bpm."
    stand.run(4, first)
    said = stand.said(Outcome.CLEAN)
    played, written = float(first), float(rung)
    assert said == (f"Pass 2: clean. It was played at {played:g} bpm, not at the rung's {written:g}: the ladder stays.")
    assert stand.it.state.tempo_bpm == rung


def test_stopped_when_it_counts_it_is_logged_once_and_the_next_pass_starts_from_the_top(stand: Stand) -> None:
    stand.it.apply(Start())
    to_before_the_end(stand, 60)
    stand.it.apply(Stop())
    assert sink_of(stand).outcomes() == ["unjudged"]
    assert stand.it.playhead().place == 0
    stand.it.apply(Start())
    stand.run(5)
    stand.it.apply(Stop())
    assert sink_of(stand).outcomes() == ["unjudged"] * 2


def test_stopped_when_it_counts_guitars_that_swap_have_swapped_once(stand: Stand) -> None:
    stand.it.apply(ToggleSwapping())
    stand.it.apply(Hear("guitar 1"))
    stand.it.apply(Start())
    to_before_the_end(stand, 60)
    stand.it.apply(Stop())
    assert stand.it.state.mine == "guitar 2"
    before = len(stand.sink.struck("guitar 1"))
    stand.it.apply(Start())
    stand.run(2)
    assert len(stand.sink.struck("guitar 1")) > before
    assert stand.it.state.mine == "guitar 2"


def test_what_is_changed_while_the_last_stroke_sounds_swaps_nobody_twice(stand: Stand) -> None:
    stand.it.apply(ToggleSwapping())
    stand.it.apply(Start())
    to_before_the_end(stand, 60)
    assert stand.it.state.mine == "guitar 2"
    stand.it.apply(SetClick("eighths"))
    stand.run(1)
    assert stand.it.state.mine == "guitar 2"
    assert len(sink_of(stand).outcomes()) == 1


def test_a_bar_that_was_built_and_counted_is_followed_by_the_next_though_it_was_stopped(stand: Stand) -> None:
    stand.it.apply(SetLoop(stand.it.state.loaded.whole))
    stand.it.apply(UseMethod(Method.FRONT))
    stand.it.apply(Start())
    stand.run(7)
    assert stand.said(Outcome.CLEAN).startswith("Pass ")
    for _ in range(400):
        if not sink_of(stand).outcomes():
            stand.run(Fraction(1, 100), 100, step=240)
    assert stand.it.playhead().place < Fraction(5, 4)  # on the note over the join
    stand.it.apply(Stop())
    assert stand.it.state.loop == Loop(0, 1)
    stand.it.apply(Start())
    stand.run(4 + 5)
    assert stand.it.playhead().bar == 1


def test_a_pass_that_counts_is_not_lost_by_leaving(stand: Stand) -> None:
    stand.it.apply(Start())
    to_before_the_end(stand, 200)
    stand.sink.run_for(round(Fraction(200, 1000) * stand.sink.rate - LATEST * stand.sink.rate) + 100)
    stand.it.close()
    db = sqlite3.connect(stand.machine.log.path or "")
    assert db.execute("SELECT count(*) FROM passes").fetchone() == (1,)
    db.close()
