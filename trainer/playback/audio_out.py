"""A synth with its sequencer on an open audio device, found by name or by trying, and closed without hanging."""

import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from trainer.playback import drivers, fluid
from trainer.playback.block_clock import TICKS_A_SECOND
from trainer.playback.drivers import Buffering, NoSoundError
from trainer.playback.synth_options import SynthOptions
from trainer.playback.time_limit import TimeLimitError, call_within

OPENING: Final = 4.0
"""Seconds that a driver may take to open its device."""

STARTING: Final = 3.0
"""Seconds from then on within which the device must take sound; an idle PulseAudio sink may have 2 s ahead."""

CLOSING: Final = 1.0
"""Seconds that a driver may take to close."""

_ADVICE: Final = (
    "Connect or switch on a sound device, start the sound server (PipeWire or PulseAudio), or render to a file instead."
)


@dataclass(frozen=True, slots=True)
class Device:
    """Which device to play on."""

    driver: str = drivers.AUTOMATIC
    """One of `drivers.audio_drivers()`, or "auto"."""
    name: str | None = None
    """The driver's own name for the device; None for its default."""
    period: int | None = None
    """Frames that are rendered at once; None for the driver's usual."""
    periods: int | None = None
    """How many periods wait to be heard; None for the driver's usual."""


@dataclass(slots=True)
class AudioOut:
    """An open device and what plays on it."""

    driver: str
    rate: int
    buffering: Buffering
    synth: fluid.Synth
    sequencer: fluid.Sequencer
    _output: fluid.Driver

    def close(self) -> None:
        """Release the device, then delete the rest; a driver that hangs is left behind with what it holds."""
        try:
            call_within(CLOSING, self._output.close)
        except TimeLimitError:
            return
        self.sequencer.close()
        self.synth.close()


def open_audio(bank: Path, options: SynthOptions, device: Device) -> AudioOut:
    """Open the device, or the first one that works.

    Raises NoSoundError where none works, SynthError where the bank cannot be read, LibraryMissingError.
    """
    tried = []
    for name in drivers.to_try(device.driver):
        tried.append(name)
        out = _try(name, options, device)
        if out is not None:
            return _with_bank(out, bank)
    where = f" for the device {device.name!r}" if device.name else ""
    raise NoSoundError(f"No sound device could be opened{where} (tried: {', '.join(tried)}). {_ADVICE}")


def _with_bank(out: AudioOut, bank: Path) -> AudioOut:
    """The device with its bank, which is loaded only now: a large one takes half a second for every driver tried."""
    try:
        out.synth.load_bank(bank)
    except fluid.SynthError:
        out.close()
        raise
    return out


def _try(name: str, options: SynthOptions, device: Device) -> AudioOut | None:
    """The device opened by one driver and seen running; None where that fails."""
    chosen = drivers.buffering(name, device.period, device.periods)
    if name == "jack":
        server = drivers.jack_server()
        if server is None:
            return None
        options = replace(options, rate=server[0])
        chosen = Buffering(server[1], chosen.periods)
    synth = options.make(None)
    try:
        _choose(synth.settings, name, chosen, device.name)
    except fluid.SynthError:
        synth.close()
        raise
    sequencer = fluid.Sequencer(synth, TICKS_A_SECOND)
    try:
        output = call_within(OPENING, lambda: fluid.Driver(synth))
    except fluid.SynthError:
        sequencer.close()
        synth.close()
        return None
    except TimeLimitError:
        return None  # the opening thread still holds the synth
    out = AudioOut(name, options.rate, chosen, synth, sequencer, output)
    if not _runs(sequencer):
        out.close()
        return None
    return out


def _choose(settings: fluid.FluidSettings, driver: str, chosen: Buffering, name: str | None) -> None:
    settings.set("audio.driver", driver)
    settings.set("audio.period-size", chosen.period)
    settings.set("audio.periods", max(2, chosen.periods))  # FluidSynth's least; not every driver looks at it
    for key, value in drivers.EXTRA.get(driver, {}).items():
        settings.set(key, value)
    if name:
        settings.set(f"audio.{driver}.device", name)


def _runs(sequencer: fluid.Sequencer) -> bool:
    """Whether the device takes sound: its clock moves twice, so that more was taken than the first period."""
    end = time.monotonic() + STARTING
    seen = {sequencer.now()}
    while time.monotonic() < end:
        seen.add(sequencer.now())
        if len(seen) > 2:
            return True
        time.sleep(0.002)
    return False
