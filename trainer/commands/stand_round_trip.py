"""Measuring the stand's round trip: the synth plays on its own driver, the input records beside it.

The synth plays a click of its bank at known frames; the same click, rendered without a device, is looked for in what
comes in. The delay runs from the moment at which the sink's clock says that the frame was rendered to the moment at
which the capture's clock says that it came in: the same two clocks by which the stand judges a pass.
"""

import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.problem import Problem, ProblemsError
from trainer.playback.channel_layout import Channel, ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK
from trainer.playback.mix import CLICK
from trainer.playback.sink import SinkGoneError
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_sink import ClickKeys, SynthSink
from trainer.session.own_sound import bank_of, click_keys_of, open_synth, synth_options

if TYPE_CHECKING:
    from trainer.listening.calibration import Opening, RoundTrip
    from trainer.listening.capture import Capture
    from trainer.listening.sound import Floats
    from trainer.settings import Settings
    from trainer.sounds.rig import Rig

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
_LAYOUT = ChannelLayout((Channel(CLICK, None, 9),))
_LOUDEST = 127


@dataclass(frozen=True, slots=True)
class MarkerClick:
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


def click_of(settings: "Settings", rig: "Rig") -> MarkerClick:
    """The click as the player's bank and patches have it. Raises ProblemsError."""
    from trainer.sounds.sound_bank import check_bank

    bank = bank_of(settings)
    fitted = rig.fitted_to(check_bank(bank))
    preset = fitted.for_part(CLICK).presets[0]
    program = Event(0, Kind.PROGRAM, 0, preset.program, preset.bank)
    return MarkerClick(bank, synth_options(settings), click_keys_of(fitted), (program,))


def measure_stand(settings: "Settings", rig: "Rig", day: str) -> "RoundTrip":
    """Measure the stand's way over several openings of both devices.

    Args:
        settings: the player's, with the devices to measure.
        rig: the patches.
        day: the day it is, as the list of round trips shows it.

    Raises:
        ProblemsError: a device is wireless or cannot be opened, nothing comes back, or the delay wanders.
        NoSoundError: no sound device works.
        SynthError: the bank cannot be read.
        LibraryMissingError: libfluidsynth is not installed.
    """
    from trainer.listening.calibration import STAND, RoundTrip, measure, wireless_problem
    from trainer.listening.capture import Capture
    from trainer.listening.devices import driven_device, real_device

    click = click_of(settings, rig)
    sink = open_synth(settings, click.keys)
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
        sink = open_synth(settings, click.keys)
        try:
            with Capture(settings.device or None, channels=INPUTS) as capture:
                return _one_opening(sink, capture, click, shape)
        except SinkGoneError as gone:
            raise ProblemsError([Problem("", 0, 0, str(gone).rstrip("."), hint="Start again")]) from None
        finally:
            sink.close()

    return measure(opened, named)


def _one_opening(sink: SynthSink, capture: "Capture", click: MarkerClick, shape: "Floats") -> "Opening":
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
