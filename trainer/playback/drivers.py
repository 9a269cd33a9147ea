"""Audio drivers: which ones libfluidsynth offers, in what order to try them, and how much each should buffer."""

import ctypes
import ctypes.util
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from trainer.playback import fluid, sound_log

PIPEWIRE: Final = "pipewire"
AUTOMATIC: Final = "auto"
"""The name that stands for the first driver that works."""


class NoSoundError(Exception):
    """No audio device could be opened; the text is plain sentences with the fix."""


@dataclass(frozen=True, slots=True)
class Buffering:
    """How a driver buffers: `period` frames are rendered at once, and `periods` of them wait to be heard."""

    period: int
    periods: int

    @property
    def frames(self) -> int:
        """Frames from rendering to hearing, without what lies behind the driver."""
        return self.period * self.periods


# In the order they are tried. PulseAudio's driver knows a period only, and asks the server for a buffer of one.
# Measured with 1,024: the frame that `now` tells is heard 24 ms later, a note sent at once after 41 to 62 ms.
# FluidSynth's own default, 64 frames, drops out on PulseAudio and PipeWire (FluidSynth #1642), 512 on a busy machine
# (`tests/benchmarks/live_timing.py`). With PulseAudio's 768 a change of tempo is heard within the 60 ms that it may
# take: after 33 ms in the median, 49 at most; 1,024 takes 44 and 65 (`tests/benchmarks/tempo_change.py`). In ten
# times 20 s on a busy machine it had 37 gaps (592 ms in all), 1,024 had 55 (617 ms). JACK's server decides for itself.
DEFAULTS: Final[dict[str, Buffering]] = {
    "pipewire": Buffering(1024, 1),
    "pulseaudio": Buffering(768, 1),
    "jack": Buffering(256, 2),
    "alsa": Buffering(256, 4),
    "coreaudio": Buffering(256, 2),
    "wasapi": Buffering(512, 2),
    "dsound": Buffering(512, 4),
    "portaudio": Buffering(256, 4),
    "waveout": Buffering(512, 8),
    "oss": Buffering(256, 4),
}
_OTHER: Final = Buffering(512, 4)

# Settings that a driver needs besides its buffering.
EXTRA: Final[dict[str, dict[str, str | int]]] = {
    "jack": {"audio.jack.autoconnect": 1, "audio.jack.id": "twinspur"},
}

_SILENT: Final = ("file",)  # offered by libfluidsynth, but not a device
_UNASKED: Final = ("sdl2", "opensles", "oboe")  # need an initialisation of their own: never tried by themselves


def audio_drivers() -> tuple[str, ...]:
    """The audio drivers that the installed libfluidsynth offers, best first. Raises LibraryMissingError."""
    sound_log.hush()
    settings = fluid.FluidSettings()
    try:
        offered = [name for name in settings.options("audio.driver") if name not in _SILENT]
    finally:
        settings.close()
    ranks = {name: rank for rank, name in enumerate(DEFAULTS)}
    return tuple(sorted(offered, key=lambda name: (ranks.get(name, len(ranks)), name)))


def to_try(driver: str) -> tuple[str, ...]:
    """The drivers to try for a name: itself, or every one that may work by itself. Raises NoSoundError.

    PipeWire's is not tried where no PipeWire runs: its library would say so on the terminal, where nothing can stop it.
    """
    offered = audio_drivers()
    if PIPEWIRE in offered and not pipewire_runs(os.environ):
        if driver == PIPEWIRE:
            raise NoSoundError("PipeWire is not running. Start it, or choose another audio driver.")
        offered = tuple(name for name in offered if name != PIPEWIRE)
    if driver == AUTOMATIC:
        return tuple(name for name in offered if name not in _UNASKED)
    if driver not in offered:
        raise NoSoundError(
            f"There is no audio driver {driver!r} here. Choose one of: {', '.join(offered)}, {AUTOMATIC}."
        )
    return (driver,)


def pipewire_runs(environment: Mapping[str, str]) -> bool:
    """Whether a PipeWire daemon has its socket where PipeWire's clients look for it.

    Args:
        environment: the variables that name the socket and its folder, as PipeWire's client library reads them
            (`PIPEWIRE_REMOTE`, `PIPEWIRE_RUNTIME_DIR`, `XDG_RUNTIME_DIR`).
    """
    name = environment.get("PIPEWIRE_REMOTE") or "pipewire-0"
    folders = (environment.get(key) for key in ("PIPEWIRE_RUNTIME_DIR", "XDG_RUNTIME_DIR"))
    return any((Path(folder) / name).is_socket() for folder in (*folders, "/run/pipewire") if folder)


def buffering(driver: str, period: int | None = None, periods: int | None = None) -> Buffering:
    """A driver's buffering, with what the player chose in place of the defaults."""
    usual = DEFAULTS.get(driver, _OTHER)
    return Buffering(period or usual.period, periods or usual.periods)


def jack_server() -> tuple[int, int] | None:
    """The rate and the period of the running JACK server; None where none runs.

    FluidSynth takes on JACK's rate only after it has made the synth, without telling.
    """
    sound_log.hush_system()
    name = ctypes.util.find_library("jack")
    if name is None:
        return None
    jack = ctypes.CDLL(name)
    sound_log.hush_system()
    jack.jack_client_open.restype = ctypes.c_void_p
    jack.jack_client_open.argtypes = (ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
    for asked in (jack.jack_get_sample_rate, jack.jack_get_buffer_size, jack.jack_client_close):
        asked.argtypes = (ctypes.c_void_p,)
    no_start_server = 1  # JackNoStartServer, jack/types.h
    status = ctypes.c_int()
    client = jack.jack_client_open(b"twinspur-rate", no_start_server, ctypes.byref(status))
    if not client:
        return None
    found = int(jack.jack_get_sample_rate(client)), int(jack.jack_get_buffer_size(client))
    jack.jack_client_close(client)
    return found
