"""The listener by itself: a MIDI input is heard, a pass is cut out of what came, judged to the tick, and kept."""

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from math import inf, isfinite
from pathlib import Path

import numpy as np
import pytest

from tests.listening.plucked import player, record
from tests.screens.music import RIG, Folder, machine
from trainer.listening.bands import Bands
from trainer.listening.capture import Level
from trainer.listening.judging import judge_cut_pass
from trainer.listening.live_judge import LocalJudge, Question
from trainer.listening.sound import Sound
from trainer.listening.takes import Takes
from trainer.listening.written import WrittenPart
from trainer.playback.midi_source import ReceivedMessage, SourceGoneError
from trainer.playback.share import PassReport
from trainer.practice.passes import Pass
from trainer.practice.verdict import UNJUDGED, Outcome
from trainer.session.heard_pass import JudgedPass, Passage, PassInProgress, PassToJudge, pass_to_judge
from trainer.session.inputs import Input, MidiInput
from trainer.session.latency import Latency
from trainer.session.listening import Listening
from trainer.session.music import LoadedExercise
from trainer.session.pass_recording import BEFORE_S, PassRecording

NOW = datetime(2031, 5, 4, 18, 0, tzinfo=UTC)


class Keyboard:
    """A MIDI input whose messages the test gives."""

    port = "keyboard"
    restarts = 0

    def __init__(self, messages: list[ReceivedMessage]) -> None:
        self.messages, self.gone, self.closed = messages, False, False

    def take(self) -> list[ReceivedMessage]:
        if self.gone:
            raise SourceGoneError("The MIDI input 'keyboard' is no longer there. Connect it again, and start again.")
        given, self.messages = self.messages, []
        return given

    def close(self) -> None:
        self.closed = True


def low_gate(folder: Path) -> LoadedExercise:
    machine(folder)
    exercises = Folder(folder)
    return LoadedExercise.of(exercises.read(exercises.find("salt-road")), "Low gate", RIG)


def a_pass(loaded: LoadedExercise, first: int = 1, last: int = 4) -> Pass:
    line = loaded.line("guitar 1")
    return Pass("a" * 32, NOW, NOW.date(), line, loaded.digest, first, last, True, 120.0, 8.0, UNJUDGED)


def report(steady: bool = True) -> PassReport:
    return PassReport(1, Fraction(3, 4), Fraction(120), Fraction(0), Fraction(384_000), steady)


def written_of(item: PassToJudge) -> WrittenPart:
    assert item.written is not None
    return item.written


def notes(item: PassToJudge, late: Callable[[int], float] = lambda _: 0.0) -> list[ReceivedMessage]:
    """The part as it is written, 30 ms late as a whole."""
    written = written_of(item)
    return [
        ReceivedMessage(item.begins + 0.03 + float(stroke.at) + late(number), (0x90, pitch, 100))
        for number, stroke in enumerate(written.strokes)
        for pitch in stroke.pitches
    ]


def listened(
    folder: Path, messages: list[ReceivedMessage], item: PassToJudge, source: Input | None = None
) -> tuple[list[JudgedPass], Takes]:
    heard: list[JudgedPass] = []
    done = threading.Event()

    def take(each: JudgedPass) -> None:
        heard.append(each)
        done.set()

    takes = Takes(folder / "takes")
    ear = source or MidiInput(Keyboard(messages), time.monotonic)
    listener = Listening(
        ear, Bands(), takes, clock=time.monotonic, now=lambda: NOW, judged=take, tell=lambda _: None,
        gone=lambda _: None,
    )  # fmt: skip
    listener.ask(item)
    assert done.wait(30)
    listener.close()
    return heard, takes


def test_a_pass_by_midi_is_judged_and_kept(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    item = pass_to_judge(a_pass(loaded), report(), loaded.piece, time.monotonic() - 20)
    assert item.passage.tempo_bpm == 120
    (heard,), takes = listened(tmp_path, notes(item), item)
    assert heard.judgement.verdict.outcome is Outcome.CLEAN
    measured = heard.judgement.verdict.measured
    assert measured is not None and measured.matched == measured.notes == 35
    (kept,) = takes.all()
    assert kept.sound.suffix == ".mid" and kept.info.logged_pass == "a" * 32


def test_a_late_note_by_midi_is_named(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    item = pass_to_judge(a_pass(loaded), report(), loaded.piece, time.monotonic() - 20)
    (heard,), _ = listened(tmp_path, notes(item, lambda number: 0.045 if number == 24 else 0.0), item)
    verdict = heard.judgement.verdict
    assert verdict.outcome is Outcome.MISSED
    assert "45 ms late" in verdict.reasons[0].sentence and "Bar 3" in verdict.reasons[0].sentence


def test_nothing_played_is_not_judged(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    item = pass_to_judge(a_pass(loaded), report(), loaded.piece, time.monotonic() - 20)
    (heard,), takes = listened(tmp_path, [], item)
    assert heard.judgement.verdict.outcome is Outcome.UNJUDGED
    assert not takes.all()


def test_a_silent_pass_by_sound_is_not_kept_and_a_played_one_is(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    begins = time.monotonic() - 20
    item = pass_to_judge(a_pass(loaded), report(), loaded.piece, begins)
    written = written_of(item)
    seconds = float(written.length) + 2
    for number, sound in enumerate(
        (Sound(np.zeros(round(seconds * 48_000), np.float32), 48_000), record(player(written, 0.5, 3.0), seconds))
    ):
        heard, takes = listened(tmp_path, [], item, Tape(sound, begins - 0.45))
        assert len(heard) == 1
        assert len(takes.all()) == number


def test_a_pass_whose_tempo_changed_is_not_judged_and_says_so(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    item = pass_to_judge(a_pass(loaded), report(steady=False), loaded.piece, time.monotonic())
    assert item.written is None
    (heard,), takes = listened(tmp_path, [], item)
    assert heard.judgement.verdict.outcome is Outcome.UNJUDGED
    assert "at one tempo" in heard.judgement.verdict.reasons[0].sentence
    assert not takes.all()


def test_a_pass_over_two_riffs_is_judged_with_each_at_its_own_tempo(tmp_path: Path) -> None:
    form = LoadedExercise.of(low_gate(tmp_path).exercise, "", RIG)
    inside = pass_to_judge(a_pass(form, 5, 6), report(), form.piece, 0.0)
    assert inside.info.riff == "High gate" and inside.info.first_bar == 1 and not inside.said_first
    assert inside.at == form.piece.bars[4].at
    item = pass_to_judge(a_pass(form, 4, 6), report(), form.piece, time.monotonic() - 20)
    (heard,), takes = listened(tmp_path, notes(item, lambda number: 0.045 if number == 10 else 0.0), item)
    verdict = heard.judgement.verdict
    assert verdict.outcome is Outcome.MISSED
    assert "45 ms late" in verdict.reasons[0].sentence and "bar 5" in verdict.reasons[0].sentence.casefold()
    assert "through the form" in heard.of.said_first
    (kept,) = takes.all()
    assert kept.info.form and (kept.info.first_bar, kept.info.last_bar) == (4, 6)


def test_a_pass_of_more_than_ten_minutes_is_told(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    slow = replace(report(), share=Fraction(1, 120))
    item = pass_to_judge(replace(a_pass(loaded), seconds=640.0), slow, loaded.piece, time.monotonic() - 641)
    (heard,), _ = listened(tmp_path, [], item)
    assert "more than ten minutes" in heard.judgement.verdict.reasons[0].sentence


def test_what_is_built_begins_after_the_bar_before_it(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    item = pass_to_judge(replace(a_pass(loaded, 2, 3), seconds=6.0), report(), loaded.piece, 100.0)
    assert item.begins == pytest.approx(102.0)


class Tape:
    """A sound card's input at which a recording is played, from a moment on."""

    name, gone, dropped, rate = "tape", "", 0, 48_000
    told_late_s = 0.0

    def __init__(self, sound: Sound, begins: float) -> None:
        self.sound, self.begins = sound, begins
        self.closed = False

    def level(self) -> Level:
        return Level(-10.0, False, False)

    def reach(self) -> float:
        return time.monotonic()

    def frame_of(self, moment: float) -> int:
        return max(0, round((moment - self.begins) * self.rate)) if isfinite(self.begins) else 0

    def moment_of(self, frame: int) -> float:
        return self.begins + frame / self.rate

    def frames(self, first: int, last: int) -> Sound:
        return Sound(self.sound.samples[first:last], self.rate)

    def between(self, first: float, last: float) -> Sound:
        return self.frames(self.frame_of(first), self.frame_of(last))

    def forget(self, before: float) -> None:
        pass

    def close(self) -> None:
        self.closed = True


def test_a_pass_is_heard_ahead_while_it_sounds_and_judged_as_it_would_be_at_its_end(tmp_path: Path) -> None:
    loaded = low_gate(tmp_path)
    music = Passage(loaded.piece, loaded.whole, "guitar 1", Fraction(1))
    written = music.written()[0]
    assert written is not None
    played = player(written, 0.55, 3.0)
    tape = Tape(record([*played[:4], *played[5:]], float(written.length) + 1.5), inf)
    looked: list[int] = []
    begins = inf
    ready = threading.Event()

    class Counts(LocalJudge):
        def look(self, question: Question) -> None:
            looked.append(len(question.written.strokes))
            super().look(question)

    def underway() -> PassInProgress | None:
        ready.set()
        sounds = begins <= time.monotonic() < begins + float(written.length)
        return PassInProgress(music, Fraction(0), begins) if sounds else None

    heard: list[JudgedPass] = []
    listener = Listening(
        tape, Bands(), Takes(tmp_path / "takes"), clock=time.monotonic, now=lambda: NOW,
        judged=heard.append, tell=lambda _: None, gone=lambda _: None, in_progress=underway, judging=Counts,
    )  # fmt: skip
    assert ready.wait(60)  # whoever judges has warmed up
    tape.begins = time.monotonic()
    begins = tape.begins + 0.5
    while time.monotonic() < begins + float(written.length):
        time.sleep(0.01)
    listener.ask(PassToJudge(music, begins, a_pass(loaded), start=Fraction(0)))
    while not heard and time.monotonic() < begins + float(written.length) + 10:
        time.sleep(0.01)
    listener.close()
    assert tape.closed and len(looked) >= 2
    (one,) = heard
    at_end = judge_cut_pass(tape.between(begins - BEFORE_S, begins + float(written.length) + 0.25), BEFORE_S, written)
    assert one.judgement.verdict.outcome is at_end.verdict.outcome is Outcome.MISSED
    assert one.judgement.verdict.measured is not None and one.judgement.verdict.measured.missed == 1
    assert [each.sentence for each in one.judgement.verdict.reasons] == [
        each.sentence for each in at_end.verdict.reasons
    ]


@pytest.mark.parametrize(("from_s", "silent"), [(0.01, True), (-1.0, False)])
def test_a_pass_stays_silent_whatever_the_next_one_begins_with(tmp_path: Path, from_s: float, silent: bool) -> None:
    loaded = low_gate(tmp_path)
    played = PassInProgress(Passage(loaded.piece, loaded.whole, "guitar 1", Fraction(1)), Fraction(0), 100.0)
    end = 100.0 + played.seconds
    loud = np.zeros(round((played.seconds + 2) * Tape.rate), np.float32)
    loud[round((end + from_s - 99.5) * Tape.rate) :] = 0.5
    recording = PassRecording(played, 100.0)
    recording.hand_on(Tape(Sound(loud, Tape.rate), 99.5), LocalJudge(), end + 0.2, Latency())
    assert recording.silent is silent


def test_the_level_of_a_midi_input_and_its_going_away() -> None:
    clock = [100.0]
    keyboard = Keyboard([ReceivedMessage(100.0, (0x90, 52, 127)), ReceivedMessage(100.1, (0x80, 52, 0))])
    ear = MidiInput(keyboard, lambda: clock[0])
    level = ear.level()
    assert level.peak_db == 0.0 and not level.nothing
    clock[0] = 103.0
    assert ear.level().nothing
    keyboard.gone = True
    ear.reach()
    assert "no longer there" in ear.gone
    ear.close()
    assert keyboard.closed
