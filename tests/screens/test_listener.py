"""The listener by itself: a MIDI input is heard, a pass is cut out of what came, judged to the tick, and kept."""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

from tests.screens.music import RIG, Folder, wiring
from trainer.listening.bands import Bands
from trainer.listening.expected import written_part
from trainer.listening.takes import Takes
from trainer.playback.midi_source import Received, SourceGoneError
from trainer.playback.share import PassReport
from trainer.practice.passes import Pass
from trainer.practice.verdict import UNJUDGED, Outcome
from trainer.screens.ears import MidiEar
from trainer.screens.listener import Asked, Heard, Listener, asked
from trainer.screens.stood import Stood

NOW = datetime(2031, 5, 4, 18, 0, tzinfo=UTC)


class Keyboard:
    """A MIDI input whose messages the test gives."""

    port = "keyboard"

    def __init__(self, messages: list[Received]) -> None:
        self.messages, self.gone, self.closed = messages, False, False

    def take(self) -> list[Received]:
        if self.gone:
            raise SourceGoneError("The MIDI input 'keyboard' is no longer there. Connect it again, and start again.")
        given, self.messages = self.messages, []
        return given

    def close(self) -> None:
        self.closed = True


def low_gate(folder: Path) -> Stood:
    wiring(folder)
    exercises = Folder(folder)
    return Stood.of(exercises.read(exercises.find("salt-road")), "Low gate", RIG)


def a_pass(stood: Stood, first: int = 1, last: int = 4) -> Pass:
    line = stood.line("guitar 1")
    return Pass("a" * 32, NOW, NOW.date(), line, stood.digest, first, last, True, 120.0, 8.0, UNJUDGED)


def report(steady: bool = True) -> PassReport:
    return PassReport(1, Fraction(3, 4), Fraction(120), Fraction(0), Fraction(384_000), steady)


def notes(item: Asked, late: Callable[[int], float] = lambda _: 0.0) -> list[Received]:
    """The part as it is written, 30 ms late as a whole."""
    written = written_part(item.riff, "guitar 1", item.tempo_bpm, item.bars)
    return [
        Received(item.begins + 0.03 + float(stroke.at) + late(number), (0x90, pitch, 100))
        for number, stroke in enumerate(written.strokes)
        for pitch in stroke.pitches
    ]


def listened(folder: Path, messages: list[Received], item: Asked) -> tuple[list[Heard], Takes]:
    heard: list[Heard] = []
    done = threading.Event()

    def take(each: Heard) -> None:
        heard.append(each)
        done.set()

    takes = Takes(folder / "takes")
    ear = MidiEar(Keyboard(messages), time.monotonic)
    listener = Listener(
        ear, Bands(), takes, clock=time.monotonic, now=lambda: NOW, heard=take, tell=lambda _: None, gone=lambda _: None
    )  # fmt: skip
    listener.ask(item)
    assert done.wait(30)
    listener.close()
    return heard, takes


def test_a_pass_by_midi_is_judged_and_kept(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    item = asked(a_pass(stood), report(), stood.piece, time.monotonic() - 20)
    assert item is not None and item.tempo_bpm == 120
    (heard,), takes = listened(tmp_path, notes(item), item)
    assert heard.judgement.verdict.outcome is Outcome.CLEAN
    measured = heard.judgement.verdict.measured
    assert measured is not None and measured.matched == measured.notes == 35
    (kept,) = takes.all()
    assert kept.sound.suffix == ".mid" and kept.about["pass"] == "a" * 32


def test_a_late_note_by_midi_is_named(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    item = asked(a_pass(stood), report(), stood.piece, time.monotonic() - 20)
    assert item is not None
    (heard,), _ = listened(tmp_path, notes(item, lambda number: 0.045 if number == 24 else 0.0), item)
    verdict = heard.judgement.verdict
    assert verdict.outcome is Outcome.MISSED
    assert "45 ms late" in verdict.reasons[0].sentence and "Bar 3" in verdict.reasons[0].sentence


def test_nothing_played_is_not_judged(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    item = asked(a_pass(stood), report(), stood.piece, time.monotonic() - 20)
    assert item is not None
    (heard,), _ = listened(tmp_path, [], item)
    assert heard.judgement.verdict.outcome is Outcome.UNJUDGED


def test_a_pass_whose_tempo_changed_is_not_asked_for(tmp_path: Path) -> None:
    stood = low_gate(tmp_path)
    assert asked(a_pass(stood), report(steady=False), stood.piece, 0.0) is None


def test_bars_of_a_form_are_judged_in_their_own_riff_and_not_over_two(tmp_path: Path) -> None:
    low = low_gate(tmp_path)
    form = Stood.of(low.exercise, "", RIG)
    inside = asked(a_pass(form, 5, 6), report(), form.piece, 0.0)
    assert inside is not None and inside.riff.name == "High gate" and inside.bars == (1, 2)
    assert inside.at == form.piece.bars[4].at
    assert asked(a_pass(form, 4, 5), report(), form.piece, 0.0) is None


def test_the_level_of_a_midi_input_and_its_going_away() -> None:
    clock = [100.0]
    keyboard = Keyboard([Received(100.0, (0x90, 52, 127)), Received(100.1, (0x80, 52, 0))])
    ear = MidiEar(keyboard, lambda: clock[0])
    level = ear.level()
    assert level.peak_db == 0.0 and not level.nothing
    clock[0] = 103.0
    assert ear.level().nothing
    keyboard.gone = True
    ear.reach()
    assert "no longer there" in ear.gone
    ear.close()
    assert keyboard.closed
