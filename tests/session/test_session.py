"""Practising: what the player does becomes what sounds, and every pass is judged and logged."""

import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from tests.logged import newest_passes
from tests.screens.music import RIG, Days, HandSink, machine, seconds
from trainer.music.exercise import PartSettings
from trainer.music.problem import ProblemsError
from trainer.playback.event import Kind
from trainer.playback.piece import Loop
from trainer.playback.sink import SinkGoneError
from trainer.practice import reading
from trainer.practice.sittings import sittings
from trainer.practice.verdict import Outcome
from trainer.session.actions import (
    ChangeTempo,
    ChooseBar,
    FromTheTop,
    Hear,
    HearAll,
    HearOnly,
    HearOthers,
    JudgePass,
    MoveLoop,
    SetClick,
    SetCountIn,
    SetLoop,
    SetTempo,
    Start,
    Stop,
    SwapGuitars,
    TakePart,
    ToggleCountInBetween,
    ToggleGuide,
    ToggleSwapping,
    UseMethod,
)
from trainer.session.choices import Method
from trainer.session.events import Changed, PassCounted, Reply, SessionEvent, Told
from trainer.session.loop_moves import LoopMove
from trainer.session.machine import Machine, Sounding
from trainer.session.music import LoadedExercise
from trainer.session.session import PracticeSession

WAIT = 5.0


class Stand:
    """A stand on a clock that the test turns."""

    def __init__(self, around: Machine, sink: HandSink, riff: str = "Low gate") -> None:
        self.machine, self.sink = around, sink
        self.told: list[str] = []
        exercise = around.exercises.read(around.exercises.find("salt-road"))
        self.exercise = exercise
        self.events: list[SessionEvent] = []
        self.it = PracticeSession(
            around,
            LoadedExercise.of(exercise, riff, RIG),
            Sounding(sink, "recorder"),
            self.hear,
        )

    def hear(self, event: SessionEvent) -> None:
        self.events.append(event)
        if isinstance(event, Told):
            self.told.append(event.sentence)

    def said(self, outcome: Outcome) -> str:
        """The answer to a verdict."""
        return self.it.apply(JudgePass(outcome)).said or ""

    def until(self, come: Callable[[], bool]) -> None:
        """Let time pass until the player's thread has come so far."""
        end = time.monotonic() + WAIT
        while not come():
            assert time.monotonic() < end, "the player's thread did not come so far"
            self.it.player.step()
            self.sink.run_for(240)
            time.sleep(0.001)

    def run(self, beats: Fraction | int, bpm: Fraction | float | None = None, step: int = 2400) -> None:
        """Let time pass, with the player doing its work all the while."""
        bpm = Fraction(self.it.state.tempo_bpm if bpm is None else bpm)
        end = self.sink.now() + seconds(self.sink, bpm, beats)
        while self.sink.now() < end:
            self.sink.run_to(min(end, self.sink.now() + step))
            self.it.player.step()

    def play_pass(self, outcome: str = "") -> None:
        """Play until the next pass counts, and say how it went in its second half."""
        passes = self.it.state.passes
        end = time.monotonic() + WAIT
        said = not outcome
        while self.it.state.passes == passes:
            head = self.it.playhead()
            fresh = head.began not in (None, self.it.state.counted)
            if not said and head.playing and fresh and head.share_played > Fraction(6, 10):
                self.it.apply(JudgePass(Outcome(outcome)))
                said = True
            self.sink.run_to(self.sink.now() + 1200)
            self.it.player.step()
            assert time.monotonic() < end, "the pass did not end"

    def logged(self) -> list[tuple[str, float, int, int]]:
        """Outcome, tempo, first and last bar of every pass, the newest last."""
        found = self.machine.log.ask(newest_passes)
        return [(str(p.outcome), p.tempo_bpm, p.first_bar, p.last_bar) for p in reversed(found)]


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    sink = HandSink()
    made = Stand(machine(tmp_path, sink), sink)
    yield made
    made.it.close()


def without_count_in(stand: Stand) -> None:
    stand.it.apply(SetCountIn(0))


def test_it_starts_at_the_ladders_start_with_a_bar_of_count_in(stand: Stand) -> None:
    stand.it.apply(Start())
    stand.run(Fraction(7, 2))
    assert stand.it.playhead().counting_in
    assert len(stand.sink.struck("click")) == 4
    assert not stand.sink.struck("guitar 1")
    stand.run(2)
    assert stand.it.playhead().playing
    assert stand.sink.struck("guitar 1") and stand.sink.struck("bass")


def test_a_gallop_reaches_the_sink_as_an_eighth_and_two_sixteenths(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(Start())
    stand.run(5)
    frames = [event.frame for event in stand.sink.struck("guitar 1")][:4]
    eighth, sixteenth = (seconds(stand.sink, 100, Fraction(1, n)) for n in (2, 4))
    assert [b - a for a, b in pairwise(frames)] == [eighth, sixteenth, sixteenth]


def test_stopping_ends_every_note_and_starting_goes_on_there(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(Start())
    stand.run(5)
    stand.it.apply(Stop())
    place = stand.it.playhead().place
    stand.run(2)
    on = [event for event in stand.sink.done if event.kind is Kind.NOTE_ON]
    off = [event for event in stand.sink.done if event.kind is Kind.NOTE_OFF]
    assert len(on) == len(off)
    assert stand.it.playhead().place == place > 0
    stand.it.apply(Start())
    assert stand.it.playhead().place >= place
    stand.it.apply(FromTheTop())
    assert stand.it.playhead().place < Fraction(1, 16)


def test_hearing_just_the_harmony_and_all_but_mine_changes_what_is_struck_at_once(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(HearOnly("guitar 2"))
    stand.it.apply(Start())
    stand.run(4)
    assert stand.sink.struck("guitar 2") and stand.sink.struck("click")
    assert not stand.sink.struck("guitar 1") and not stand.sink.struck("bass")
    stand.it.apply(HearOthers())
    stand.run(2)
    assert stand.sink.struck("bass") and not stand.sink.struck("guitar 1")
    stand.it.apply(HearAll())
    stand.run(2)
    assert stand.sink.struck("guitar 1")


def test_a_pass_is_logged_as_it_was_judged_and_an_unjudged_one_counts_for_nothing(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(UseMethod(Method.LADDER))
    stand.it.apply(Start())
    stand.play_pass("clean")
    stand.play_pass()
    stand.play_pass("missed")
    assert [outcome for outcome, *_ in stand.logged()] == ["clean", "unjudged", "missed"]
    kept = stand.machine.log.ask(reading.ladder, stand.it.state.loaded.line("guitar 1"))
    assert kept == json.loads(json.dumps(stand.it.state.progress.ladder.as_dict()))


def test_three_clean_passes_climb_a_rung_from_the_next_downbeat_on(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(UseMethod(Method.LADDER))
    first = stand.it.state.tempo_bpm
    stand.it.apply(Start())
    for _ in range(3):
        stand.play_pass("clean")
    assert stand.it.state.tempo_bpm > first
    stand.play_pass("clean")
    tempos = [tempo for _, tempo, *_ in stand.logged()]
    assert tempos[:3] == [first] * 3
    assert tempos[3] == pytest.approx(stand.it.state.tempo_bpm)


def test_a_verdict_in_the_first_half_is_about_the_pass_before(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(UseMethod(Method.LADDER))
    stand.it.apply(Start())
    stand.play_pass()
    stand.run(1)
    assert stand.said(Outcome.CLEAN).startswith("Pass 1: clean.")
    assert [outcome for outcome, *_ in stand.logged()] == ["clean"]
    assert stand.it.state.progress.ladder.clean == 1
    assert stand.said(Outcome.MISSED).startswith("Pass 1: missed.")
    assert [outcome for outcome, *_ in stand.logged()] == ["missed"]
    assert stand.it.state.progress.ladder.misses == 1


def test_before_the_first_pass_there_is_nothing_to_judge(stand: Stand) -> None:
    assert "first" in stand.said(Outcome.CLEAN)
    assert stand.logged() == []


def test_another_tempo_is_heard_at_once_and_the_ladder_follows_it(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(UseMethod(Method.LADDER))
    stand.it.apply(Start())
    stand.run(1)
    stand.it.apply(SetTempo(Fraction(140)))
    assert stand.it.state.progress.ladder.rung.tempo_bpm == 140
    before = len(stand.sink.struck("bass"))
    stand.run(8, 140)
    frames = [event.frame for event in stand.sink.struck("bass")][before + 1 :]
    assert {b - a for a, b in pairwise(frames)} <= {seconds(stand.sink, 140, 1), seconds(stand.sink, 140, 1) + 1}
    stand.it.apply(SetTempo(Fraction(5000)))
    assert stand.it.state.tempo_bpm == 400


def test_a_loop_of_some_bars_plays_them_only(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(SetLoop(Loop(2, 3)))
    stand.it.apply(Start())
    stand.play_pass("clean")
    head = stand.it.playhead()
    assert 2 <= head.bar <= 3
    stand.it.apply(MoveLoop(LoopMove.WHOLE))
    stand.play_pass()
    assert [(first, last) for *_, first, last in stand.logged()] == [(3, 4), (1, 4)]


def test_swapping_every_pass_trades_the_guitars_on_the_downbeat(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(ToggleSwapping())
    stand.it.apply(Hear("guitar 1"))
    stand.it.apply(SetLoop(Loop(0, 0)))
    stand.it.apply(Start())
    stand.play_pass()
    assert stand.it.state.mine == "guitar 2"
    stand.run(2)
    length = seconds(stand.sink, 100, 4)
    begin = stand.sink.struck("bass")[0].frame
    first, second = ({event.frame for event in stand.sink.struck(part)} for part in ("guitar 2", "guitar 1"))
    assert max(first) < begin + length
    assert min(second) == begin + length


def test_swapping_by_hand_needs_two_guitars(stand: Stand) -> None:
    assert not stand.it.apply(SwapGuitars()).refused and stand.it.state.mine == "guitar 2"
    assert not stand.it.apply(SwapGuitars()).refused and stand.it.state.mine == "guitar 1"


def test_the_fading_guide_sinks_with_clean_passes(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(ToggleGuide())
    stand.it.apply(SetLoop(Loop(0, 0)))
    stand.it.apply(Start())
    stand.play_pass("clean")
    stand.play_pass("clean")
    assert stand.it.state.mix.level_db("guitar 1") == -8
    stand.play_pass("missed")
    assert stand.it.state.mix.level_db("guitar 1") == 0


@pytest.mark.parametrize(
    ("way", "loops"), [(Method.FRONT, [(1, 1), (1, 2), (1, 2)]), (Method.END, [(4, 4), (3, 4), (3, 4)])]
)
def test_building_adds_a_bar_after_a_clean_pass(stand: Stand, way: Method, loops: list[tuple[int, int]]) -> None:
    stand.it.apply(UseMethod(way))
    stand.it.apply(Start())
    stand.play_pass("clean")
    stand.play_pass("missed")
    stand.play_pass("missed")
    assert [(first, last) for *_, first, last in stand.logged()] == loops
    loop = stand.it.state.loop
    assert (loop.first + 1, loop.last + 1) == loops[0]


def test_building_plays_one_note_over_the_join(stand: Stand) -> None:
    stand.it.apply(UseMethod(Method.FRONT))
    stand.it.apply(Start())
    stand.play_pass()
    notes = stand.sink.struck("guitar 1")
    assert len(notes) == 13
    assert notes[-1].frame - notes[0].frame == pytest.approx(seconds(stand.sink, 100, 4), abs=2)


def test_the_playhead_follows_built_bars_in_the_music_that_is_shown(stand: Stand) -> None:
    stand.it.apply(UseMethod(Method.END))
    stand.it.apply(Start())
    stand.run(Fraction(7, 2))
    assert stand.it.playhead().bar == 2
    stand.run(2)
    assert stand.it.playhead().bar == 3
    notes = stand.sink.struck("guitar 1")
    assert notes[1].frame - notes[0].frame == seconds(stand.sink, 100, Fraction(1, 2))


def test_a_burst_is_one_bar_over_what_is_clean_then_rest_until_it_is_enough(stand: Stand) -> None:
    stand.it.apply(ChooseBar(2))
    stand.it.apply(UseMethod(Method.BURST))
    assert stand.it.state.tempo_bpm == 106
    stand.it.apply(Start())
    for _ in range(3):
        stand.play_pass("clean")
    stand.until(lambda: not stand.it.running)
    assert [(round(tempo), first, last) for _, tempo, first, last in stand.logged()] == [(106, 3, 3)] * 3
    assert "enough" in stand.told[-1]
    stand.it.apply(UseMethod(Method.PLAIN))
    assert stand.it.state.tempo_bpm == 100


def test_passes_can_be_counted_in_one_by_one(stand: Stand) -> None:
    stand.it.apply(ToggleCountInBetween())
    stand.it.apply(SetLoop(Loop(0, 0)))
    stand.it.apply(Start())
    stand.play_pass()
    stand.until(lambda: stand.it.playhead().counting_in)
    stand.play_pass()
    assert len(stand.logged()) == 2
    clicks = stand.sink.struck("click")
    assert len(clicks) >= 16


def test_everything_is_where_it_was_at_the_next_start(tmp_path: Path) -> None:
    sink = HandSink()
    around = machine(tmp_path, sink)
    one = Stand(around, sink)
    one.it.apply(SetLoop(Loop(1, 2)))
    one.it.apply(SetTempo(Fraction(123)))
    for action in (TakePart("guitar 2"), Hear("guitar 1"), SetClick("gallop")):
        one.it.apply(action)
    one.it.close()
    assert sink.closed
    again = HandSink()
    two = Stand(replace(machine(tmp_path, again, log=around.log), load_rig=lambda: RIG), again)
    choices = two.it.state.choices
    assert (choices.first, choices.last, choices.mine, choices.unheard, choices.click) == (
        1, 2, "guitar 2", ("guitar 1",), "gallop",
    )  # fmt: skip
    assert two.it.state.tempo_bpm == 123
    assert around.memory.last == ("salt-road", "Low gate")
    two.it.close()


def test_the_place_is_logged_with_every_pass(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(SetLoop(Loop(0, 0)))
    stand.it.apply(Start())
    stand.play_pass()
    place = stand.machine.log.ask(sittings)[0].place
    assert place is not None
    assert (place.line.exercise, place.line.riff, place.first_bar, place.last_bar) == ("salt-road", "Low gate", 1, 1)


def test_a_sink_that_goes_away_leaves_the_stand_in_silence(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    stand.it.apply(Start())
    stand.run(1)

    def gone() -> int:
        raise SinkGoneError("The cable is out.")

    monkeypatch.setattr(stand.sink, "now", gone)
    stand.until(lambda: bool(stand.told))
    assert "cable" in stand.told[0] and "silence" in stand.told[0]
    assert stand.it.player.sounding.where == "silence"
    stand.it.apply(Start())
    assert stand.it.running


def test_why_a_sink_went_away_is_told_once_by_who_noticed_it_first(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand.it.apply(Start())
    stand.run(1)
    asked: list[str] = []

    def gone() -> int:
        if threading.current_thread() is threading.main_thread() and not asked:
            asked.append("where the playhead is")
            stand.it.player.step()  # notices it meanwhile, and closes the sink
            raise SinkGoneError("The sound was closed.")
        raise SinkGoneError("The cable is out.")

    monkeypatch.setattr(stand.sink, "now", gone)
    assert stand.it.player.position() is None or stand.told
    stand.until(lambda: bool(stand.told))
    assert stand.told == ["The cable is out. The stand goes on in silence; press y to open the sound again."]


def test_the_form_plays_every_riff_and_is_logged_as_a_whole(stand: Stand) -> None:
    stand.it.load(LoadedExercise.of(stand.exercise, "", RIG))
    without_count_in(stand)
    stand.it.apply(Start())
    stand.play_pass()
    assert stand.logged() == [("unjudged", 100.0, 1, 6)]


def test_a_play_of_half_an_hour_offers_a_break(stand: Stand) -> None:
    stand.it.breaks = stand.it.breaks.after_play(25 * 60)
    assert stand.it.breaks.due


def test_guitars_that_swap_every_pass_climb_a_ladder_each(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(ToggleSwapping())
    stand.it.apply(UseMethod(Method.LADDER))
    stand.it.apply(Start())
    for _ in range(5):
        stand.play_pass("clean")
    mine, other = stand.it.state.progress.ladder, stand.it.state.progress.other
    assert stand.it.state.mine == "guitar 2"
    assert other is not None
    assert (mine.clean, other.word) == (2, "up")
    assert [round(tempo) for _, tempo, *_ in stand.logged()] == [100] * 5
    for part, found in (("guitar 1", other), ("guitar 2", mine)):
        kept = stand.machine.log.ask(reading.ladder, stand.it.state.loaded.line(part))
        assert kept == json.loads(json.dumps(found.as_dict()))


def test_some_bars_climb_a_ladder_of_their_own_and_are_on_their_rung_the_next_day(tmp_path: Path) -> None:
    sink, around = HandSink(), machine(tmp_path)
    one = Stand(around, sink)
    without_count_in(one)
    one.it.apply(UseMethod(Method.LADDER))
    whole = one.it.state.tempo_bpm
    one.it.apply(SetLoop(Loop(2, 2)))
    one.it.apply(Start())
    for _ in range(6):
        one.play_pass("clean")
    one.it.apply(Stop())
    climbed = one.it.state.tempo_bpm
    assert climbed > whole
    one.it.apply(MoveLoop(LoopMove.WHOLE))
    assert one.it.state.tempo_bpm == whole
    one.it.apply(SetLoop(Loop(1, 1)))  # bars that have no ladder yet begin at the tempo of now
    assert one.it.state.tempo_bpm == whole
    one.it.apply(SetLoop(Loop(2, 2)))
    assert one.it.state.tempo_bpm == climbed
    assert one.it.state.progress.ladder.clean == 0
    one.it.close()

    days = Days()
    days.at += timedelta(days=1)
    two = Stand(replace(machine(tmp_path, log=around.log), now=days), HandSink())
    ladder = two.it.state.progress.ladder
    assert two.it.state.loop == Loop(2, 2)
    assert whole < ladder.tempo_bpm < climbed + 1  # a step lower, to play into it
    assert round(ladder.base_bpm) == climbed
    two.it.apply(MoveLoop(LoopMove.WHOLE))
    assert two.it.state.tempo_bpm == whole
    two.it.close()


def test_other_bars_are_heard_at_the_tempo_of_their_own_rung_at_once(stand: Stand) -> None:
    without_count_in(stand)
    stand.it.apply(UseMethod(Method.LADDER))
    stand.it.apply(SetLoop(Loop(0, 0)))
    stand.it.apply(Start())
    for _ in range(3):
        stand.play_pass("clean")
    stand.run(2)
    assert stand.it.state.tempo_bpm == 104
    stand.it.apply(MoveLoop(LoopMove.WHOLE))
    head = stand.it.playhead()
    assert stand.it.state.tempo_bpm == head.tempo_bpm == 100


def test_a_session_without_a_screen_plays_as_many_passes_as_were_asked_for(tmp_path: Path) -> None:
    sink, events = HandSink(), list[SessionEvent]()
    around = machine(tmp_path, sink)
    exercise = around.exercises.read(around.exercises.find("salt-road"))
    session = PracticeSession(
        around, LoadedExercise.of(exercise, "Low gate", RIG), Sounding(sink, "recorder"), events.append, passes=2
    )
    for action in (SetCountIn(0), SetLoop(Loop(0, 0)), Start()):
        session.apply(action)
    while session.running:
        sink.run_for(2400)
        session.player.step()
    assert session.state.passes == 2
    assert len([event for event in events if isinstance(event, PassCounted)]) == 2
    assert len(sink.struck("bass")) == 8
    session.close()
    assert sink.closed


def test_a_listener_may_ask_the_session_from_another_thread_while_it_is_told(tmp_path: Path) -> None:
    """Events are told after the lock is released: a screen that waits for its own thread must not hold up playing."""
    sink, answers = HandSink(), list[object]()
    around = machine(tmp_path, sink)
    exercise = around.exercises.read(around.exercises.find("salt-road"))

    def hear(event: SessionEvent) -> None:
        if not asked.is_set():
            asked.set()
            other = threading.Thread(target=lambda: answers.append(session.apply(ChooseBar(by=1))))
            other.start()
            other.join(WAIT)
            answers.append(other.is_alive())

    asked = threading.Event()
    session = PracticeSession(around, LoadedExercise.of(exercise, "Low gate", RIG), Sounding(sink, "recorder"), hear)
    session.apply(ChangeTempo(1))
    assert answers == [Reply(), False]
    session.close()


def test_what_changed_is_told_with_the_state_before_and_after(stand: Stand) -> None:
    before = stand.it.state
    stand.events.clear()
    stand.it.apply(ChangeTempo(2))
    (changed,) = stand.events
    assert isinstance(changed, Changed)
    assert changed.before is before and changed.after is stand.it.state
    assert changed.after.tempo_bpm - changed.before.tempo_bpm == 2


def test_an_exercise_that_cannot_be_played_leaves_what_was_loaded(stand: Stand) -> None:
    before = stand.it.state
    broken = replace(stand.exercise, parts=(PartSettings("bass", patch="no such patch"),))
    with pytest.raises(ProblemsError):
        stand.it.load(LoadedExercise.of(broken, "Low gate", RIG))
    assert stand.it.state is before
    stand.it.apply(Start())
    assert stand.it.running


def test_that_a_sink_goes_away_is_told_while_a_key_is_being_carried_out(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The player tells it with its own lock held: it must not wait for the session, which waits for the player."""
    stand.it.apply(Start())
    entered, go_on = threading.Event(), threading.Event()

    def keep(*_: object) -> None:
        entered.set()
        go_on.wait(WAIT)

    def gone() -> int:
        raise SinkGoneError("The cable is out.")

    monkeypatch.setattr(stand.machine.memory, "keep", keep)
    key = threading.Thread(target=stand.it.apply, args=(ChangeTempo(1),))
    key.start()
    assert entered.wait(WAIT)
    monkeypatch.setattr(stand.sink, "now", gone)
    end = time.monotonic() + WAIT / 2
    while not stand.told and time.monotonic() < end:
        time.sleep(0.01)
    told = list(stand.told)
    go_on.set()
    key.join(WAIT)
    assert told == ["The cable is out. The stand goes on in silence; press y to open the sound again."]
    assert not key.is_alive()
