"""How late the stand hears: by calibration a steady lateness is a habit, without it nobody is called late."""

import subprocess
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import partial
from pathlib import Path

import pytest

from tests.machine import BenchInputs
from tests.screens.music import RIG, HandSink, machine
from tests.screens.test_listening import BenchInput, listen, play_a_pass
from tests.screens.test_stand import standing
from tests.sound_servers import Pulse
from trainer.listening.calibration import STAND, RoundTrip, store, wireless_problem
from trainer.music.problem import ProblemsError
from trainer.session.inputs import CardInput
from trainer.session.latency import (
    CalibratedLatency,
    allowing_for_dropouts,
    calibrated_latency,
    heard_at,
)
from trainer.session.listening import BEFORE_S
from trainer.session.machine import Sounding

PLAYED_AT_S = 0.17
"""Where the bench's player begins in what is cut out (`BenchInput.between`)."""
BEHIND_MS = 1000 * (PLAYED_AT_S - BEFORE_S)


async def habit(
    folder: Path, looks_up: Callable[..., CalibratedLatency | None]
) -> tuple[str, list[int | None], tuple[str, ...]]:
    """What is said of a steady player 20 ms behind, the marks, and what was said before."""
    ear, sink = BenchInput(), HandSink()
    ear.jitter_ms = 1.0
    around = machine(folder, sink, rig=RIG, inputs=BenchInputs(ear, latency=looks_up))
    async with standing(folder, (100, 40), around, sink) as hall:
        ear.hall = hall
        await hall.press("k", "k")
        await listen(hall)
        before = hall.screen.hearing.told()
        await play_a_pass(hall, ear)
        heard, strip = hall.screen.hearing.heard, hall.screen.hearing.strip()
        assert heard is not None and strip is not None
        return heard.judgement.habit, [mark.late_ms for mark in strip.marks], before


async def test_a_steady_lateness_is_a_habit_when_it_is_surely_more_than_calibration_may_err(tmp_path: Path) -> None:
    said, marks, before = await habit(tmp_path, lambda _ear, _sounding: CalibratedLatency(0.0, 2.0))
    assert f"You play {BEHIND_MS:.0f} ms behind the click, steadily: a habit, not an error." in said
    assert marks == [0] * len(marks)  # no stroke is to blame for it
    assert "known to within 2.0 ms" in before[0]


async def test_what_may_be_calibrations_own_error_is_not_claimed(tmp_path: Path) -> None:
    said, _, _ = await habit(tmp_path, lambda _ear, _sounding: CalibratedLatency(0.0, 18.0))
    assert "You may be behind the click as a whole, by less than can be told for sure." in said


async def test_the_pass_is_looked_for_where_calibration_says(tmp_path: Path) -> None:
    said, _, _ = await habit(tmp_path, lambda _ear, _sounding: CalibratedLatency(BEHIND_MS / 1000, 1.0))
    assert "behind" in said or "You sit on the click." in said  # the bench plays wherever it is cut: 20 ms in


async def test_without_calibration_nobody_is_early_or_late(tmp_path: Path) -> None:
    said, _, before = await habit(tmp_path, lambda _ear, _sounding: None)
    assert "Early or late as a whole is not known without calibration." in said
    assert "known to within" not in before[0]


async def test_what_sounds_by_bluetooth_is_refused_and_the_input_closed(tmp_path: Path) -> None:
    def refuses(_ear: object, _sounding: Sounding) -> CalibratedLatency | None:
        raise ProblemsError([wireless_problem("Cans")])

    ear, sink = BenchInput(), HandSink()
    around = machine(tmp_path, sink, rig=RIG, inputs=BenchInputs(ear, latency=refuses))
    async with standing(tmp_path, (100, 40), around, sink) as hall:
        await hall.press("L", "enter")
        for _ in range(200):
            await hall.pilot.pause(0.01)
            if ear.closed:
                break
        assert ear.closed
        await hall.pilot.pause()
        assert not hall.screen.hearing.on


@pytest.fixture
def sounding(pulse: Pulse, monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    from trainer.playback.audio_out import Device
    from trainer.playback.synth_sink import SynthSink
    from trainer.sounds.find_banks import built_in_bank

    monkeypatch.setenv("PULSE_SERVER", pulse.server)
    monkeypatch.setenv("PULSE_SINK", "null")
    sink = SynthSink(built_in_bank(), Device("pulseaudio"))
    yield Sounding(sink, "synth", latency_seconds=0.01)
    sink.close()


class Input(CardInput):
    """A card's input of a name, that is not opened."""

    device, rate = "null.monitor", 48_000  # type: ignore[assignment]

    def __init__(self) -> None:
        pass


def test_what_was_measured_of_these_devices_is_known(sounding: Sounding, tmp_path: Path) -> None:
    path = tmp_path / "round-trips.json"
    trip = RoundTrip("null", "null.monitor", 48_000, 28.0, 0.4, way=STAND, driver="pulseaudio", period=768)
    store(path, replace(trip, way=""))
    store(path, replace(trip, output="another"))
    look_up = partial(calibrated_latency, path)
    assert look_up(Input(), sounding) is None
    store(path, trip)
    known = look_up(Input(), sounding)
    assert known is not None
    assert (known.late_s, known.within_ms) == (pytest.approx(0.018), 0.4)
    assert look_up(BenchInput(), sounding) is None
    assert look_up(Input(), Sounding(HandSink(), "silence")) is None


def test_a_bluetooth_output_is_refused_by_its_bus(
    own_pulse: Pulse, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from trainer.playback.audio_out import Device
    from trainer.playback.synth_sink import SynthSink
    from trainer.sounds.find_banks import built_in_bank

    monkeypatch.setenv("PULSE_SERVER", own_pulse.server)
    monkeypatch.delenv("PULSE_SINK", raising=False)
    load = ["load-module", "module-null-sink", "sink_name=cans", "sink_properties=device.bus=bluetooth"]
    for words in (load, ["set-default-sink", "cans"]):
        subprocess.run(["pactl", *words], check=True, env=own_pulse.environment, stdout=subprocess.DEVNULL)
    sink = SynthSink(built_in_bank(), Device("pulseaudio"))
    try:
        with pytest.raises(ProblemsError, match="is connected by Bluetooth"):
            calibrated_latency(tmp_path / "none", Input(), Sounding(sink, "synth"))
    finally:
        sink.close()


def test_a_frame_is_placed_more_steadily_than_by_single_looks(sounding: Sounding) -> None:
    from trainer.playback.synth_sink import SynthSink

    sink = sounding.sink
    assert isinstance(sink, SynthSink)
    single, tied = [], []
    frame = Fraction(sink.now() + 4_800)
    for _ in range(150):
        time.sleep(0.011)
        now = sink.now()
        moment = time.monotonic()
        single.append(moment - (now - float(frame)) / sink.rate - sounding.latency_seconds)
        tied.append(heard_at(sounding, frame, single[-1]) - 2 * sounding.latency_seconds)
    late = tied[50:]
    assert max(late) - min(late) < 0.5 * (max(single[50:]) - min(single[50:]))
    known = CalibratedLatency(0.02, 1.0)
    assert allowing_for_dropouts(None, sounding, frame, frame + 9_600) is None
    after = allowing_for_dropouts(known, sounding, frame, frame + 4_800)
    assert after is not None and after.within_ms >= known.within_ms
    assert known.widened(0.005).within_ms == pytest.approx(6.0)


def test_a_sink_without_frames_of_a_device_is_looked_at_once() -> None:
    assert heard_at(Sounding(HandSink(), "silence"), Fraction(5), 7.5) == 7.5
