"""Nothing ends listening without a word: a mistake of ours costs one pass, and an input that stands still is told."""

import os
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.session.test_listening import NOW, Keyboard, a_pass, low_gate, notes, report
from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement
from trainer.listening.live_judge import LocalJudge, Question
from trainer.listening.midi_take import MidiTake
from trainer.listening.takes import Takes
from trainer.practice.verdict import Outcome
from trainer.session.heard_pass import JudgedPass, PassInProgress, PassToJudge, pass_to_judge
from trainer.session.inputs import MidiInput
from trainer.session.listening import COMES_AGAIN, STANDS_STILL, Listening


class Stumbles(LocalJudge):
    """Makes a mistake with the first pass that is a player's."""

    stumbled = False

    def judge(self, question: Question, notes: MidiTake | None = None) -> Judgement:
        if notes is not None and not self.stumbled:
            self.stumbled = True
            raise ZeroDivisionError("division by zero")
        return super().judge(question, notes)


@pytest.fixture(autouse=True)
def _state(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


def own_takes() -> Takes:
    """A folder of takes of the test's own."""
    return Takes(Path(os.environ["XDG_STATE_HOME"]) / "takes")


class Told:
    """What a listener told."""

    def __init__(self, item: PassToJudge, underway: Callable[[], PassInProgress | None] = lambda: None) -> None:
        self.heard: list[JudgedPass] = []
        self.said: list[str] = []
        self.gone: list[str] = []
        self.came = threading.Semaphore(0)
        self.listener = Listening(
            MidiInput(Keyboard(notes(item)), time.monotonic), Bands(), own_takes(), clock=time.monotonic,
            now=lambda: NOW, judged=self._take, tell=self.said.append, gone=self._end, in_progress=underway,
            judging=Stumbles,
        )  # fmt: skip

    def _take(self, heard: JudgedPass) -> None:
        self.heard.append(heard)
        self.came.release()

    def _end(self, sentence: str) -> None:
        self.gone.append(sentence)
        self.came.release()


def test_a_mistake_of_ours_is_told_with_the_pass_it_spoilt_and_the_next_pass_is_judged(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    item = pass_to_judge(a_pass(stood), report(), stood.piece, time.monotonic() - 20)
    told = Told(item)
    for _ in range(2):
        told.listener.ask(replace(item))
        assert told.came.acquire(timeout=60)
    told.listener.close()
    first, second = (heard.judgement.verdict for heard in told.heard)
    assert first.outcome is Outcome.UNJUDGED
    assert "ZeroDivisionError" in first.reasons[0].sentence and "goes on listening" in first.reasons[0].sentence
    assert second.outcome is Outcome.CLEAN
    (written,) = (tmp_path / "state").rglob("mistake-*.txt")
    assert "division by zero" in written.read_text() and not told.gone


def test_where_mistakes_do_not_end_listening_ends_with_a_sentence(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)

    def underway() -> PassInProgress | None:
        raise KeyError("no such bar")

    told = Told(pass_to_judge(a_pass(stood), report(), stood.piece, time.monotonic() - 20), underway)
    assert told.came.acquire(timeout=60)
    (sentence,) = told.gone
    assert "does not listen any more. Press L to listen again." in sentence
    told.listener.close()


def test_one_mistake_between_passes_is_told_and_does_not_end_listening(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    item = pass_to_judge(a_pass(stood), report(), stood.piece, time.monotonic() - 20)
    asks = iter([Fraction(0)])

    def underway() -> PassInProgress | None:
        if next(asks, None) is not None:
            raise KeyError("no such bar")
        return None

    told = Told(item, underway)
    Stumbles.stumbled = True
    try:
        told.listener.ask(item)
        assert told.came.acquire(timeout=60)
    finally:
        Stumbles.stumbled = False
    told.listener.close()
    (heard,) = told.heard
    assert heard.judgement.verdict.outcome is Outcome.CLEAN
    assert any("goes on listening" in sentence for sentence in told.said) and not told.gone


class StandsStill(MidiInput):
    """A MIDI input from which nothing has come since some moment; None while all is well."""

    since: float | None = None

    def reach(self) -> float:
        now = super().reach()
        return now if self.since is None else self.since


def test_an_input_that_stands_still_is_told_once_and_so_is_its_return(tmp_path: Path) -> None:
    source = StandsStill(Keyboard([]), time.monotonic)
    said: list[str] = []
    told = threading.Semaphore(0)

    def tell(sentence: str) -> None:
        said.append(sentence)
        told.release()

    listening = Listening(
        source, Bands(), own_takes(), clock=time.monotonic, now=lambda: NOW, judged=lambda _: None, tell=tell,
        gone=lambda _: None,
    )  # fmt: skip
    source.since = time.monotonic() - 1.5
    assert told.acquire(timeout=60)
    source.since = None
    assert told.acquire(timeout=60)
    listening.close()
    assert said == [STANDS_STILL, COMES_AGAIN]
