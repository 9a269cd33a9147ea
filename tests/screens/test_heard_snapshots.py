"""The stand after a pass that was heard: marks under the tab, sentences below it; looked at before they were kept."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.machine import BenchInputs
from tests.screens.music import HandSink, machine
from tests.screens.settling import settled
from tests.screens.test_listening import BenchInput
from tests.screens.test_stand import Hall
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.written_part import written_part
from trainer.screens.application import TwinspurApp
from trainer.screens.meter import LevelMeter

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
LATE_MS = {"a": 24, "2 &": -31, "3": 46}
"""By how much strokes on some counts are late."""


class KeysEar(BenchInput):
    """An input by MIDI: every gallop's last stroke drags, some others are worse, one is lost and one is wrong."""

    def between(self, first: float, last: float) -> MidiTake:  # type: ignore[override]  # as a MIDI input gives
        assert self.hall is not None
        standing = self.hall.it.state
        assert standing.last is not None
        tempo = Fraction(standing.last.played.tempo_bpm).limit_denominator(100)
        bars = standing.loop.first + 1, standing.loop.last + 1
        written = written_part(standing.loaded.piece.riffs[0].riff, "guitar 1", tempo, bars)
        notes = []
        for number, stroke in enumerate(written.strokes):
            late = next((ms for count, ms in LATE_MS.items() if stroke.count.endswith(count)), number % 3 - 1)
            if number != 13:
                pitch = stroke.pitches[0] + 2 * (number == 27)
                notes.append(MidiNote(stroke.at + Fraction(3, 20) + Fraction(late, 1000), pitch))
        return MidiTake(tuple(sorted(notes, key=lambda note: note.at)))


@SIZES
@pytest.mark.parametrize("theme", ["dark", "no colour"])
def test_a_pass_that_was_heard(
    snap_compare: Callable[..., bool],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    size: tuple[int, int],
    theme: str,
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    ear, sink = KeysEar(), HandSink()
    around = replace(machine(tmp_path, sink, inputs=BenchInputs(ear)), clock=lambda: sink.now() / sink.rate)
    app = TwinspurApp(around, "stand")
    app.theme = theme

    async def play(pilot: Pilot[None]) -> None:
        hall = ear.hall = Hall(app, pilot, sink)
        app.open_on_stand("salt-road")
        await come(hall, lambda: hall.screen.session is not None and hall.screen.sounding is not None)
        await hall.press("k", "k", "L", "enter")
        await come(hall, lambda: isinstance(app.screen, LevelMeter))
        await hall.press("enter")
        await come(hall, lambda: hall.screen.hearing.on)
        await hall.press("space")
        while not hall.it.state.passes:
            await hall.run(1)
        await come(hall, lambda: hall.screen.hearing.heard is not None)
        await hall.press("space")
        await settled(pilot)
        await pilot.pause(0.1)

    assert snap_compare(app, terminal_size=size, run_before=play)


async def come(hall: Hall, true: Callable[[], object]) -> None:
    """Wait for what another thread or process does, however busy the machine is."""
    for _ in range(6000):
        await hall.pilot.pause(0.01)
        if true():
            return
    raise TimeoutError
