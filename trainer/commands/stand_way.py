"""The stand's own way from a note to the capture, measured: the synth on its own driver, the input beside it.

The synth plays a click of its bank at known frames; the same click, rendered without a device, is looked for in what
comes in. The delay runs from the moment at which the sink's clock says that the frame was rendered to the moment at
which the capture's clock says that it came in: the same two clocks by which the stand judges a pass.
"""

import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.problem import Problem, ProblemsError
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK
from trainer.playback.layout import Channel, Layout
from trainer.playback.mix import CLICK
from trainer.playback.sink import SinkGoneError
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_sink import ClickKeys, SynthSink

if TYPE_CHECKING:
    from trainer.listening.calibration import Opening, RoundTrip
    from trainer.listening.capture import Capture
    from trainer.listening.sound import Floats
    from trainer.settings import Settings

SETTLE_S, GAP_S, UNEVEN_S = 0.6, 0.45, 0.013
"""Before the first click, and between clicks; gaps grow, lest one pass for another."""
LATEST_S = 0.4
"""How late a click may come in."""
SHAPE_S = 0.05
"""Of the click, so much is looked for."""
LOOK_S = 0.008
INPUTS = 2
"""The loop may come in on the second."""
AHEAD_S = 0.3
_LAYOUT = Layout((Channel(CLICK, None, 9),))
_LOUDEST = 127


@dataclass(frozen=True, slots=True)
class Click:
    """The click that is played as a marker."""

    bank: Path
    options: SynthOptions
    keys: ClickKeys
    settings: tuple[Event, ...]

    def shape(self, rate: int) -> "Floats":
        """Its sound, both sides mixed, at a rate."""
        from trainer.playback.offline_synth import OfflineSynth

        synth = OfflineSynth(self.bank, replace(self.options, rate=rate), self.keys)
        try:
            synth.prepare(_LAYOUT, self.settings)
            synth.send([Event(0, Kind.CLICK, 0, 1, _LOUDEST)])
            sound = synth.render(round(SHAPE_S * rate))
        finally:
            synth.close()
        mono: Floats = sound.mean(axis=1).astype(float)
        return mono


def click_of(settings: "Settings") -> Click:
    """The click as the player's bank and patches have it. Raises ProblemsError."""
    from trainer.sounds.dynamics import Weight
    from trainer.sounds.find_banks import built_in_bank
    from trainer.sounds.load_patches import load_patches
    from trainer.sounds.sound_bank import check_bank

    bank = settings.bank or built_in_bank()
    patch = load_patches().fitted_to(check_bank(bank)).for_part(CLICK)
    usual, preset, kit = SynthOptions(), patch.presets[0], patch.kit
    gain = usual.gain if settings.gain is None else settings.gain
    options = SynthOptions(rate=settings.rate or usual.rate, gain=gain)
    keys = ClickKeys() if kit is None else ClickKeys(kit.key("click")[0], kit.key("click", Weight.ACCENT)[0])
    return Click(bank, options, keys, (Event(0, Kind.PROGRAM, 0, preset.program, preset.bank),))


def open_sink(settings: "Settings", click: Click) -> SynthSink:
    """The sink as the stand opens it. Raises NoSoundError, SynthError, LibraryMissingError."""
    from trainer.playback.audio_out import Device
    from trainer.playback.drivers import AUTOMATIC

    device = Device(settings.driver or AUTOMATIC, period=settings.period, periods=settings.periods)
    return SynthSink(click.bank, device, click.options, click.keys)


def measure_stand(settings: "Settings", day: str) -> "RoundTrip":
    """Measure the stand's way over several openings of both devices.

    Raises:
        ProblemsError: a device is wireless or cannot be opened, nothing comes back, or the delay wanders.
        NoSoundError: no sound device works.
        SynthError: the bank cannot be read.
        LibraryMissingError: libfluidsynth is not installed.
    """
    from trainer.listening.calibration import STAND, RoundTrip, measure, wireless_problem
    from trainer.listening.capture import Capture
    from trainer.listening.device_names import driven_device, real_device

    click = click_of(settings)
    sink = open_sink(settings, click)
    try:
        output = driven_device(sink.driver)
        with Capture(settings.device or None) as capture:
            source, rate = real_device(capture.name, "input"), capture.rate
        named = RoundTrip(
            output.name, source.name, rate, 0.0, 0.0, day, way=STAND, driver=sink.driver, period=sink.period
        )
    finally:
        sink.close()
    shape = click.shape(rate)
    for device in (output, source):
        if device.wireless:
            raise ProblemsError([wireless_problem(device.about or device.name)])

    def opened() -> "Opening":
        sink = open_sink(settings, click)
        try:
            with Capture(settings.device or None, channels=INPUTS) as capture:
                return _one_opening(sink, capture, click, shape)
        except SinkGoneError as gone:
            raise ProblemsError([Problem("", 0, 0, str(gone).rstrip("."), hint="Start again")]) from None
        finally:
            sink.close()

    return measure(opened, named)


def _one_opening(sink: SynthSink, capture: "Capture", click: Click, shape: "Floats") -> "Opening":
    """Play the clicks and find them. Raises SinkGoneError."""
    from trainer.listening.calibration import MARKERS, Opening, found_at

    sink.prepare(_LAYOUT, click.settings)
    begin = sink.now() + SETTLE_S * sink.rate
    places = [begin + (number * GAP_S + number * number * UNEVEN_S) * sink.rate for number in range(MARKERS)]
    frames = [round(place / BLOCK) * BLOCK for place in places]  # where the synth does not round
    waiting = [Event(frame, Kind.CLICK, 0, 1, _LOUDEST) for frame in frames]
    end = frames[-1] + (SHAPE_S + LATEST_S + SETTLE_S) * sink.rate
    while (now := sink.now()) < end:
        due = [event for event in waiting if event.frame < now + AHEAD_S * sink.rate]
        sink.send(due)
        del waiting[: len(due)]
        time.sleep(LOOK_S)
    came: list[list[float]] = [[] for _ in range(capture.channels)]
    for frame in frames:
        played = sink.moment(frame)
        if played is None:
            continue
        first = max(0, capture.frame(played))
        for side, found in enumerate(came):
            window = capture.between(first, first + round((SHAPE_S + LATEST_S) * capture.rate), side).samples
            lag = found_at(window, shape)
            if lag is not None:
                found.append(capture.moment(first + lag) - played)
    best = max(came, key=len)
    return Opening(tuple(best))
