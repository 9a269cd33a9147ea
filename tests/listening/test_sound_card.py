"""The sound card: PulseAudio's null sink stands for a cable from output to input."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.listening.plucked import gallop, player, record
from tests.sound_servers import Pulse, ServerMissingError, pulse_server
from trainer.listening.calibration import (
    ENOUGH,
    MARKERS,
    MOST_OPENINGS,
    STAND,
    Opening,
    RoundTrip,
    delays,
    is_wireless,
    measure,
    store,
    stored,
    stored_for,
    trial_signal,
)
from trainer.listening.sound import Samples
from trainer.music.problem import ProblemsError

RATE = 48_000


@pytest.fixture(scope="module")
def pulse(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pulse]:
    try:
        with pulse_server(tmp_path_factory.mktemp("pulse")) as server:
            yield server
    except ServerMissingError as missing:
        pytest.skip(str(missing))


def cable(delay: float, noise: float = 0.001, wander: float = 0.0, seed: int = 1):  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(seed)

    def play(samples: Samples) -> Samples:
        out = rng.normal(0, noise, len(samples)).astype(np.float32)
        parts = np.array_split(np.arange(len(samples)), 12)
        for part in parts:
            shift = round((delay + rng.uniform(-wander, wander)) * RATE)
            target = part + shift
            inside = target < len(out)
            out[target[inside]] += 0.4 * samples[part[inside]]
        return out

    return play


NAMED = RoundTrip("card out", "card in", RATE, 0.0, 0.0, "2031-05-04")


def openings(*plays, told: tuple[float, ...] = (0.0,)):  # type: ignore[no-untyped-def]
    """Openings of the devices, one after another, the last one again and again."""
    signal, _ = trial_signal(RATE)
    number = 0

    def opened() -> Opening:
        nonlocal number
        play, says = plays[min(number, len(plays) - 1)], told[min(number, len(told) - 1)]
        number += 1
        return Opening(tuple(delays(play(signal), RATE)), says)

    return opened


@pytest.mark.parametrize("delay", [0.0005, 0.012, 0.180])
def test_the_round_trip_is_measured_to_a_tenth_of_a_millisecond(delay: float) -> None:
    trip = measure(openings(cable(delay)), NAMED)
    assert abs(trip.milliseconds - delay * 1000) < 0.1
    assert trip.spread_ms < 0.1
    assert (trip.openings, trip.output, trip.measured) == (ENOUGH, "card out", "2031-05-04")


def test_what_cannot_be_calibrated_is_told() -> None:
    with pytest.raises(ProblemsError, match="No marker came back"):
        measure(openings(np.zeros_like), NAMED)
    with pytest.raises(ProblemsError, match="wanders"):
        measure(openings(cable(0.02, wander=0.01)), NAMED)
    with pytest.raises(ProblemsError, match="Bluetooth"):
        measure(openings(cable(0.02)), replace(NAMED, output="bluez_output.AA_BB.a2dp-sink"))
    with pytest.raises(ProblemsError, match=r"differs by 1\d\.\d ms from one opening"):
        measure(openings(*(cable(0.02 + 0.003 * (number % 8)) for number in range(MOST_OPENINGS))), NAMED)
    assert not is_wireless("Scarlet USB")


def test_openings_that_differ_are_kept_as_the_uncertainty() -> None:
    """A spread under a millisecond is never claimed by choosing the openings that agree."""
    trip = measure(openings(*(cable(0.02 + 0.003 * (number % 2)) for number in range(MOST_OPENINGS))), NAMED)
    assert trip.openings == MOST_OPENINGS
    assert 1.4 < trip.between_ms < 1.6
    assert trip.spread_ms == trip.between_ms


def test_an_opening_in_which_something_dropped_out_has_no_say() -> None:
    trip = measure(openings(cable(0.02, wander=0.01), cable(0.02)), NAMED)
    assert trip.spread_ms < 0.1


def test_an_opening_of_which_the_device_tells_otherwise_has_no_say_and_is_not_judged_by() -> None:
    trip = measure(openings(cable(0.05), cable(0.02), told=(61.0, 31.0)), NAMED)
    assert abs(trip.milliseconds - 20) < 0.1
    assert (trip.openings, trip.told_ms) == (ENOUGH, 31.0)
    assert not trip.holds(61.0)


def test_no_marker_is_told_after_two_openings_and_some_markers_by_number() -> None:
    calls = []

    def opened() -> Opening:
        calls.append(1)
        return Opening((0.02,) * (MARKERS - 2))

    with pytest.raises(ProblemsError, match="Only 4 of 6 markers"):
        measure(opened, NAMED)
    assert len(calls) == 2


def test_round_trips_are_kept_by_device_name(tmp_path: Path) -> None:
    path = tmp_path / "calibration.json"
    store(path, RoundTrip("out", "in", 48_000, 11.0, 0.2))
    store(path, RoundTrip("out", "in", 48_000, 12.0, 0.1))
    store(path, RoundTrip("other", "in", 48_000, 30.0, 0.1))
    found = stored(path, "out", "in", 48_000)
    assert found is not None
    assert found.milliseconds == 12.0
    assert stored(path, "out", "nobody") is None
    stand = RoundTrip("out", "in", 48_000, 28.0, 0.1, way=STAND, driver="pulseaudio", period=768)
    store(path, stand)
    found = stored(path, "out", "in", 48_000)
    assert found is not None
    assert found.milliseconds == 12.0
    assert stored_for(path, replace(stand, milliseconds=0.0)) == stand
    assert stored_for(path, replace(stand, period=1024)) is None
    path.write_text("{")
    assert stored(path, "out", "in") is None


CAPTURE = """
import sys, time
import numpy as np
from trainer.listening.capture import Capture
from trainer.listening.takes import write_take
with Capture("pulse", {rate}) as capture:
    print("ready", capture.name, flush=True)
    time.sleep({seconds})
    level = capture.level()
    recorded = capture.between(0, capture.frames, 0)
np.save({out!r}, recorded.samples)
print(capture.overruns, capture.vanished, level.clipped, level.nothing, round(level.peak_db), flush=True)
"""


def capture(pulse: Pulse, out: Path, seconds: float) -> "subprocess.Popen[str]":
    code = CAPTURE.format(rate=RATE, seconds=seconds, out=str(out))
    environment = {**pulse.environment, "PULSE_SOURCE": "null.monitor"}
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    )
    assert process.stdout is not None
    said = process.stdout.readline()
    if "ready" not in said:
        assert process.stderr is not None
        pytest.skip(f"PortAudio reaches no PulseAudio here: {process.stderr.read()[-300:]}")
    return process


def test_what_is_played_is_recorded_and_judged(pulse: Pulse, tmp_path: Path) -> None:
    from trainer.listening.hearing import hear
    from trainer.listening.sound import Sound

    written = gallop(150, bars=2)
    notes = player(written, 0.4, jitter_ms=5)
    sound = record(notes, float(written.length) + 1.0)
    raw = tmp_path / "take.raw"
    np.repeat(sound.samples, 2).tofile(raw)
    recorder = capture(pulse, tmp_path / "heard.npy", float(written.length) + 3.0)
    time.sleep(0.5)
    command = ["pacat", "--raw", "--format=float32le", "--rate=48000", "--channels=2", str(raw)]
    subprocess.run(command, env=pulse.environment, check=True, timeout=60)
    said, _ = recorder.communicate(timeout=60)
    overruns, vanished, clipped, *_ = said.split()
    assert (int(overruns), vanished, clipped) == (0, "False", "False")
    hearing = hear(Sound(np.load(tmp_path / "heard.npy"), RATE), written)
    assert all(hearing.strokes)
    off = np.array([h.at_s - n.at_s for h, n in zip(hearing.strokes, notes, strict=True) if h])
    assert np.abs(off - np.median(off)).max() < 0.002


def test_silence_is_told_before_starting(pulse: Pulse, tmp_path: Path) -> None:
    recorder = capture(pulse, tmp_path / "heard.npy", 5.0)  # two seconds, and time for a slow start
    said, _ = recorder.communicate(timeout=60)
    assert said.split()[3] == "True"


def test_no_sound_card_is_a_sentence() -> None:
    code = """
from trainer.listening.capture import Capture
from trainer.music.problem import ProblemsError
try:
    with Capture("no such card"):
        pass
except ProblemsError as error:
    print(error)
"""
    environment = {**os.environ, "PULSE_SERVER": "unix:/nonexistent"}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, check=False)
    assert "cannot be opened" in done.stdout
    assert "Traceback" not in done.stderr


def test_markers_are_found_in_a_loud_room() -> None:
    signal, starts = trial_signal(RATE)
    found = delays(cable(0.03, noise=0.05)(signal), RATE)
    assert len(found) == len(starts)
    assert np.ptp(found) < 1e-4


VANISHING = """
import time
from trainer.listening.capture import Capture
capture = Capture("pulse", 48_000)
capture.__enter__()
print("ready", flush=True)
end = time.monotonic() + 60
while not capture.vanished and time.monotonic() < end:
    time.sleep(0.05)
recorded = capture.between(0, capture.frames, 0)
print(capture.vanished, recorded.seconds > 0.3, flush=True)
import os
os._exit(0)
"""


def test_a_device_that_vanishes_leaves_the_take_so_far(tmp_path: Path) -> None:
    try:
        with pulse_server(tmp_path) as server:
            environment = {**server.environment, "PULSE_SOURCE": "null.monitor"}
            process = subprocess.Popen(
                [sys.executable, "-c", VANISHING], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                env=environment,
            )  # fmt: skip
            assert process.stdout is not None
            if "ready" not in process.stdout.readline():
                pytest.skip("PortAudio reaches no PulseAudio here")
            time.sleep(2.5)
            server.process.terminate()
            said, _ = process.communicate(timeout=60)
    except ServerMissingError as missing:
        pytest.skip(str(missing))
    assert said.split() == ["True", "True"]
