"""The playhead is where the sound is that is heard now."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from tests.screens.music import RIG, HandSink, machine
from trainer.playback.piece import Loop
from trainer.playback.position import Position, State
from trainer.practice.ladder import Ladder
from trainer.practice.methods import FadingGuide
from trainer.session.choices import Choices
from trainer.session.music import LoadedExercise
from trainer.session.playhead import DRAWING_SECONDS, bar_at, playhead
from trainer.session.state import Progress, SessionState

A_SECOND = Fraction(100, 60) / 4
"""Whole notes at 100 bpm."""


def state(folder: Path, loop: Loop | None = None) -> SessionState:
    around = machine(folder, HandSink())
    loaded = LoadedExercise.of(around.exercises.read(around.exercises.find("salt-road")), "Low gate", RIG)
    loop = loop or loaded.whole
    choices = Choices(mine="guitar 1", first=loop.first, last=loop.last, bpm=100.0)
    return SessionState(loaded, choices, Progress(Ladder.begin(loaded.rules, around.now().date()), FadingGuide()))


def at(bar: int, offset: Fraction, number: int = 1, state: State = State.PLAYING) -> Position:
    return Position(state, number, 0, bar, bar, offset, 1, 0, Fraction(100), Fraction(5, 8))


def test_it_is_as_late_as_the_sound_less_what_drawing_takes(tmp_path: Path) -> None:
    late = 0.08
    head = playhead(state(tmp_path), at(1, Fraction(1, 2)), Fraction(0), late + DRAWING_SECONDS)
    assert head.place == Fraction(3, 2) - Fraction(8, 100) * A_SECOND
    assert (head.bar, head.count, head.playing) == (1, 2, True)


def test_just_after_the_downbeat_the_end_of_the_pass_before_is_heard(tmp_path: Path) -> None:
    head = playhead(state(tmp_path, Loop(1, 2)), at(1, Fraction(0), number=2), Fraction(0), 0.1 + DRAWING_SECONDS)
    assert head.place == 3 - Fraction(1, 10) * A_SECOND
    first = playhead(state(tmp_path, Loop(1, 2)), at(1, Fraction(0)), Fraction(0), 0.1 + DRAWING_SECONDS)
    assert first.place == 1


def test_without_latency_it_is_drawn_a_little_ahead_and_round_the_loop(tmp_path: Path) -> None:
    ahead = Fraction(round(1000 * DRAWING_SECONDS), 1000) * A_SECOND
    head = playhead(state(tmp_path, Loop(1, 2)), at(2, 1 - ahead / 2), Fraction(0), 0.0)
    assert head.place == 1 + ahead / 2
    each = state(tmp_path, Loop(1, 2))
    apart = replace(each, choices=replace(each.choices, between=True))
    assert playhead(apart, at(2, 1 - ahead / 2), Fraction(0), 0.0).bar == 2


def test_stopped_it_stays_exactly_where_it_is(tmp_path: Path) -> None:
    head = playhead(state(tmp_path), at(1, Fraction(1, 8), state=State.STOPPED), Fraction(0), 0.2)
    assert head.place == Fraction(9, 8) and not head.playing


def test_counting_in_it_waits_at_the_bar_to_come(tmp_path: Path) -> None:
    position = replace(at(1, Fraction(1, 2), state=State.COUNTING_IN), count_in_bar=1, count=3)
    head = playhead(state(tmp_path), position, Fraction(0), 0.05)
    assert (head.place, head.count, head.counting_in, head.count_in_bar) == (Fraction(1), 3, True, 1)


def test_bars_are_found_by_their_places(tmp_path: Path) -> None:
    piece = state(tmp_path).loaded.piece
    places = [Fraction(n, 8) for n in range(32)]
    assert [bar_at(piece, place) for place in places] == [int(place) for place in places]
    assert bar_at(piece, Fraction(99)) == 3
