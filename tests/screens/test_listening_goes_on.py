"""Nothing ends listening without a word: a mistake of ours costs one pass, and an input that stands still is told."""

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.screens.test_listener import NOW, Keyboard, a_pass, low_gate, notes, report
from trainer.listening.ahead import JudgesHere, Question
from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement
from trainer.listening.midi_take import MidiTake
from trainer.practice.verdict import Outcome
from trainer.screens.asked import Asked, Heard, Underway, asked
from trainer.screens.ears import MidiEar
from trainer.screens.listener import Listener
from trainer.screens.standstill import COMES_AGAIN, STANDS_STILL, Standstill


class Stumbles(JudgesHere):
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


class Told:
    """What a listener told."""

    def __init__(self, item: Asked, underway: Callable[[], Underway | None] = lambda: None) -> None:
        self.heard: list[Heard] = []
        self.said: list[str] = []
        self.gone: list[str] = []
        self.came = threading.Semaphore(0)
        self.listener = Listener(
            MidiEar(Keyboard(notes(item)), time.monotonic), Bands(), None, clock=time.monotonic, now=lambda: NOW,
            heard=self._take, tell=self.said.append, gone=self._end, underway=underway, judging=Stumbles,
        )  # fmt: skip

    def _take(self, heard: Heard) -> None:
        self.heard.append(heard)
        self.came.release()

    def _end(self, sentence: str) -> None:
        self.gone.append(sentence)
        self.came.release()


def test_a_mistake_of_ours_is_told_with_the_pass_it_spoilt_and_the_next_pass_is_judged(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    item = asked(a_pass(stood), report(), stood.piece, time.monotonic() - 20)
    told = Told(item)
    for _ in range(2):
        told.listener.ask(replace(item))
        assert told.came.acquire(timeout=30)
    told.listener.close()
    first, second = (heard.judgement.verdict for heard in told.heard)
    assert first.outcome is Outcome.UNJUDGED
    assert "ZeroDivisionError" in first.reasons[0].sentence and "goes on listening" in first.reasons[0].sentence
    assert second.outcome is Outcome.CLEAN
    (written,) = (tmp_path / "state").rglob("mistake-*.txt")
    assert "division by zero" in written.read_text() and not told.gone


def test_where_mistakes_do_not_end_listening_ends_with_a_sentence(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)

    def underway() -> Underway | None:
        raise KeyError("no such bar")

    told = Told(asked(a_pass(stood), report(), stood.piece, time.monotonic() - 20), underway)
    assert told.came.acquire(timeout=30)
    (sentence,) = told.gone
    assert "does not listen any more. Press L to listen again." in sentence
    told.listener.close()


def test_one_mistake_between_passes_is_told_and_does_not_end_listening(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    item = asked(a_pass(stood), report(), stood.piece, time.monotonic() - 20)
    asks = iter([Fraction(0)])

    def underway() -> Underway | None:
        if next(asks, None) is not None:
            raise KeyError("no such bar")
        return None

    told = Told(item, underway)
    Stumbles.stumbled = True
    try:
        told.listener.ask(item)
        assert told.came.acquire(timeout=30)
    finally:
        Stumbles.stumbled = False
    told.listener.close()
    (heard,) = told.heard
    assert heard.judgement.verdict.outcome is Outcome.CLEAN
    assert any("goes on listening" in sentence for sentence in told.said) and not told.gone


def test_an_input_that_stands_still_is_told_once_and_so_is_its_return() -> None:
    standstill = Standstill()
    told = [standstill.told(now, reach) for now, reach in ((1, 1), (2, 1), (3.5, 1), (5, 1), (6, 5.9), (7, 6.9))]
    assert told == ["", "", STANDS_STILL, "", COMES_AGAIN, ""]
