"""The part of libfluidsynth that Twinspur plays with: thin, typed objects over the C functions, without any policy.

pyfluidsynth finds and loads the library and wraps a part of it. What it leaves out is declared here, on the library
that it loaded: events on the sequencer, the removal of pending events, float output, settings and their choices
(https://www.fluidsynth.org/api/). Importing this module loads nothing; the first object does.

Objects must be deleted in the order driver, sequencer, synth, settings (FluidSynth #748, #974): `Driver`, `Sequencer`
and `Synth` have `close`, and `Synth` deletes its settings after itself.
"""

import contextlib
import ctypes
import functools
import io
import platform
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from trainer.playback.event import Event, Kind

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BLOCK: Final = 64
"""Frames that FluidSynth renders at once; an event takes effect at the start of a block."""

NO_GROUP: Final = -1
"""The group of events that are withdrawn with all others only."""

_OK: Final = 0

_HINTS: Final = {
    "Linux": "On Debian or Ubuntu: sudo apt install libfluidsynth3.",
    "Darwin": "On macOS: brew install fluid-synth.",
    "Windows": "On Windows: choco install fluidsynth, or put the folder of libfluidsynth-3.dll on the PATH.",
}


def _bent(wheel: int) -> int:
    """The wheel value at which FluidSynth bends as far as `wheel` means.

    It bends by 127/128 of what the range says, after SoundFont 2.04, 8.4.10, and drops fractions of a cent (measured in
    `tests/playback/test_fluid.py`): without this an octave is 10 cents flat. Rounding up and one step more make up for
    the dropping.
    """
    if wheel == 8192:
        return wheel
    return max(0, min(16383, 8193 - (8192 - wheel) * 128 // 127))


class LibraryMissingError(Exception):
    """A library of the system is not installed; the text says which one and how to install it."""


class SynthError(Exception):
    """FluidSynth refused something; the text is a plain sentence."""


# name: (result, arguments). FluidSynth 2.x API reference; `p` is any of its opaque pointers.
_p, _i, _s, _d = ctypes.c_void_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_double
_OPTION_CALLBACK = ctypes.CFUNCTYPE(None, _p, _s, _s)
_MISSING: Final[dict[str, tuple[Any, tuple[Any, ...]]]] = {
    "fluid_version_str": (_s, ()),
    "fluid_free": (None, (_p,)),
    "fluid_settings_foreach_option": (None, (_p, _s, _p, _OPTION_CALLBACK)),
    "fluid_synth_write_float": (_i, (_p, _i, _p, _i, _i, _p, _i, _i)),
    "fluid_synth_nwrite_float": (_i, (_p, _i, _p, _p, _p, _p)),
    "fluid_synth_set_gain": (None, (_p, ctypes.c_float)),
    "fluid_synth_set_polyphony": (_i, (_p, _i)),
    "fluid_synth_get_cpu_load": (_d, (_p,)),
    "fluid_sequencer_remove_events": (None, (_p, ctypes.c_short, ctypes.c_short, _i)),
    "fluid_sequencer_register_client": (ctypes.c_short, (_p, _s, _p, _p)),
    "fluid_sequencer_unregister_client": (None, (_p, ctypes.c_short)),
    "fluid_event_set_source": (None, (_p, ctypes.c_short)),
    "fluid_event_pitch_bend": (None, (_p, _i, _i)),
    "fluid_event_control_change": (None, (_p, _i, ctypes.c_short, _i)),
    "fluid_event_program_select": (None, (_p, _i, ctypes.c_uint, ctypes.c_short, ctypes.c_short)),
}


@functools.cache
def _module() -> Any:
    """pyfluidsynth, with the missing functions declared on its library."""
    try:
        # It prints where it found the library when the environment says CI.
        with contextlib.redirect_stdout(io.StringIO()):
            import fluidsynth  # loads the C library: only when sound is asked for
    except (ImportError, OSError, AttributeError) as error:
        hint = _HINTS.get(platform.system(), "See https://www.fluidsynth.org for your system.")
        raise LibraryMissingError(f"The synthesiser library libfluidsynth was not found. {hint}") from error
    for name, (result, arguments) in _MISSING.items():
        function = getattr(fluidsynth._fl, name, None)
        if function is None:
            raise LibraryMissingError(
                f"This libfluidsynth is too old ({name} is missing): version 2.2 or newer is needed."
            )
        function.restype, function.argtypes = result, arguments
    return fluidsynth


@functools.cache
def _library() -> Any:
    """The C library itself; ctypes functions have no static type."""
    return _module()._fl


def library() -> ctypes.CDLL:
    """The loaded libfluidsynth. Raises LibraryMissingError."""
    loaded: ctypes.CDLL = _library()
    return loaded


def version() -> str:
    """The version of the loaded library, such as "2.3.1". Raises LibraryMissingError."""
    return str(_library().fluid_version_str().decode())


class FluidSettings:
    """FluidSynth's settings, by their documented names (https://www.fluidsynth.org/api/settings_index.html)."""

    def __init__(self, **values: str | int | float) -> None:
        """Make default settings and set `values`; in their names `__` stands for a dot and `_` for a dash.

        Raises LibraryMissingError, and SynthError for an unknown name or a value out of range.
        """
        self._functions = _module()
        self.pointer: int | None = self._functions.new_fluid_settings()
        for name, value in values.items():
            self.set(name.replace("__", ".").replace("_", "-"), value)

    def set(self, name: str, value: str | int | float) -> None:
        """Set one value; its type chooses the kind of setting: str, int or float. Raises SynthError."""
        if isinstance(value, str):
            done = self._functions.fluid_settings_setstr(self.pointer, name.encode(), value.encode())
        elif isinstance(value, int):
            done = self._functions.fluid_settings_setint(self.pointer, name.encode(), value)
        else:
            done = self._functions.fluid_settings_setnum(self.pointer, name.encode(), value)
        if done != _OK:
            raise SynthError(f"FluidSynth does not take {value!r} for its setting {name}.")

    def text(self, name: str) -> str:
        """The value of a text setting. Raises SynthError."""
        buffer = ctypes.create_string_buffer(1024)
        if self._functions.fluid_settings_copystr(self.pointer, name.encode(), buffer, len(buffer)) != _OK:
            raise SynthError(f"FluidSynth has no text setting {name}.")
        return buffer.value.decode(errors="replace")

    def whole(self, name: str) -> int:
        """The value of a whole-number setting. Raises SynthError."""
        value = ctypes.c_int()
        if self._functions.fluid_settings_getint(self.pointer, name.encode(), ctypes.byref(value)) != _OK:
            raise SynthError(f"FluidSynth has no whole-number setting {name}.")
        return value.value

    def number(self, name: str) -> float:
        """The value of a numeric setting. Raises SynthError."""
        value = ctypes.c_double()
        if self._functions.fluid_settings_getnum(self.pointer, name.encode(), ctypes.byref(value)) != _OK:
            raise SynthError(f"FluidSynth has no numeric setting {name}.")
        return value.value

    def options(self, name: str) -> tuple[str, ...]:
        """The choices that a text setting offers; empty where it offers none."""
        found: list[str] = []

        def note(_data: object, _name: bytes, option: bytes) -> None:
            found.append(option.decode(errors="replace"))

        _library().fluid_settings_foreach_option(self.pointer, name.encode(), None, _OPTION_CALLBACK(note))
        return tuple(found)

    def close(self) -> None:
        """Delete the settings; only after whatever was made from them."""
        if self.pointer is not None:
            self._functions.delete_fluid_settings(self.pointer)
            self.pointer = None


class Synth:
    """One synthesiser. Calls are carried out at the start of the next block that is rendered.

    It owns `settings` from now on. Channels count from 0; every method takes MIDI's ranges and ignores what
    FluidSynth refuses, except where it says otherwise.
    """

    def __init__(self, settings: FluidSettings) -> None:
        """Raises SynthError when FluidSynth cannot make a synth from the settings."""
        self.settings = settings
        self._functions = _module()
        self._raw = _library()
        self.pointer: int | None = self._functions.new_fluid_synth(settings.pointer)
        if not self.pointer:
            settings.close()
            raise SynthError("FluidSynth could not make a synthesiser from its settings.")
        self._act: dict[Kind, Callable[[int, int, int], object]] = {
            Kind.NOTE_OFF: lambda channel, key, _: self.note_off(channel, key),
            Kind.PROGRAM: lambda channel, program, bank: self.program(channel, bank, program),
            Kind.CONTROL: self.control,
            Kind.BEND: lambda channel, wheel, _: self.bend(channel, wheel),
            Kind.NOTE_ON: self.note_on,
        }
        self._bank: int | None = None

    @property
    def rate(self) -> float:
        """Frames a second (`synth.sample-rate`)."""
        return self.settings.number("synth.sample-rate")

    def load_bank(self, path: Path) -> int:
        """Load a SoundFont, use its presets from now on, and return its number. Raises SynthError."""
        number = int(self._functions.fluid_synth_sfload(self.pointer, bytes(path), 1))
        if number < 0:
            raise SynthError(f"FluidSynth cannot read {path} as a sound bank.")
        self._bank = number
        return number

    @property
    def bank(self) -> int | None:
        """The number of the bank loaded last."""
        return self._bank

    def do(self, event: Event) -> None:
        """Carry out an event at once, whatever its frame. A CLICK is not the synth's: KeyError."""
        self._act[event.kind](event.channel, event.one, event.two)

    def note_on(self, channel: int, key: int, velocity: int) -> None:
        """Start a note; `velocity` 1 to 127."""
        self._functions.fluid_synth_noteon(self.pointer, channel, key, velocity)

    def note_off(self, channel: int, key: int) -> None:
        """Release every note of `key` on the channel."""
        self._functions.fluid_synth_noteoff(self.pointer, channel, key)

    def control(self, channel: int, controller: int, value: int) -> None:
        """Send a control change."""
        self._functions.fluid_synth_cc(self.pointer, channel, controller, value)

    def bend(self, channel: int, wheel: int) -> None:
        """Set the pitch wheel, 0 to 16383, 8192 at rest; exact but for the outermost 1/128."""
        self._functions.fluid_synth_pitch_bend(self.pointer, channel, _bent(wheel))

    def program(self, channel: int, bank: int, program: int) -> bool:
        """Select a preset of the bank loaded last; where it has none, what FluidSynth takes instead, and False."""
        if self._bank is not None:
            selected = self._functions.fluid_synth_program_select(self.pointer, channel, self._bank, bank, program)
            if selected == _OK:
                return True
        self._functions.fluid_synth_bank_select(self.pointer, channel, bank)
        self._functions.fluid_synth_program_change(self.pointer, channel, program)
        return False

    def gain(self, gain: float) -> None:
        """Set the master gain, 0 to 10; FluidSynth's own default is 0.2."""
        self._raw.fluid_synth_set_gain(self.pointer, gain)

    def voices(self) -> int:
        """How many voices sound now."""
        return int(self._functions.fluid_synth_get_active_voice_count(self.pointer))

    def load(self) -> float:
        """The share of real time that rendering took lately, in per cent."""
        return float(self._raw.fluid_synth_get_cpu_load(self.pointer))

    def sounds_off(self, channel: int = -1) -> None:
        """End all notes of a channel without their release; -1 is every channel."""
        self._functions.fluid_synth_all_sounds_off(self.pointer, channel)

    def reset(self) -> None:
        """End everything and put every channel back to its defaults; programs too."""
        self._functions.fluid_synth_system_reset(self.pointer)

    def write_float(self, address: int, frames: int) -> None:
        """Render `frames` frames of interleaved stereo as 32-bit floats to memory at `address` (8 bytes a frame).

        Nothing is clipped. Raises SynthError.
        """
        if self._raw.fluid_synth_write_float(self.pointer, frames, address, 0, 2, address, 1, 2) != _OK:
            raise SynthError("FluidSynth failed to render.")

    def render(self, frames: int) -> "NDArray[np.float32]":
        """Render `frames` frames; an array of shape (frames, 2). Raises SynthError."""
        import numpy as np  # heavy: only where arrays are asked for

        out = np.empty((frames, 2), dtype=np.float32)
        self.write_float(out.ctypes.data, frames)
        return out

    def close(self) -> None:
        """Delete the synth, then its settings; only after its driver and its sequencer."""
        if self.pointer is not None:
            self._functions.delete_fluid_synth(self.pointer)
            self.pointer = None
            self.settings.close()


class Sequencer:
    """A queue of timed events in front of a synth, driven by the frames that the synth renders.

    Its clock starts at 0 with the synth's first frame. FluidSynth advances it at the start of each block to the whole
    millisecond that has begun, `floor(1000 * frame / rate)`, and then carries out what is due; so no `ticks_a_second`
    makes it finer than that, and a higher one only orders events within a millisecond.
    """

    def __init__(self, synth: Synth, ticks_a_second: float = 1000.0) -> None:
        self._functions = _module()
        self._raw = _library()
        self._synth = synth
        self.pointer: int | None = self._functions.new_fluid_sequencer2(0)
        if not self.pointer:
            raise SynthError("FluidSynth could not make a sequencer.")
        self._functions.fluid_sequencer_set_time_scale(self.pointer, ticks_a_second)
        self._client = self._functions.fluid_sequencer_register_fluidsynth(self.pointer, synth.pointer)
        self._event: int = self._functions.new_fluid_event()
        self._functions.fluid_event_set_dest(self._event, self._client)
        functions, raw, event = self._functions, self._raw, self._event
        self._fill: dict[Kind, Callable[[int, int, int], object]] = {
            Kind.NOTE_OFF: lambda channel, key, _: functions.fluid_event_noteoff(event, channel, key),
            Kind.PROGRAM: lambda channel, program, bank: raw.fluid_event_program_select(
                event, channel, synth.bank or 0, bank, program
            ),
            Kind.CONTROL: lambda channel, number, value: raw.fluid_event_control_change(event, channel, number, value),
            Kind.BEND: lambda channel, wheel, _: raw.fluid_event_pitch_bend(event, channel, _bent(wheel)),
            Kind.NOTE_ON: lambda channel, key, velocity: functions.fluid_event_noteon(event, channel, key, velocity),
        }

    def now(self) -> int:
        """The tick that the synth has reached. It wraps at 2**32."""
        return int(self._functions.fluid_sequencer_get_tick(self.pointer))

    def new_group(self) -> int:
        """A group for `send`: the number of a newly registered client that only sends. There can be some 32,000.

        Raises SynthError.
        """
        group = int(self._raw.fluid_sequencer_register_client(self.pointer, b"", None, None))
        if group < 0:
            raise SynthError("FluidSynth's sequencer takes no more clients.")
        return group

    def send(self, tick: int, event: Event, group: int = NO_GROUP) -> None:
        """Queue an event for `tick`, whatever its frame; one caller at a time. A CLICK is not the synth's: KeyError.

        Among events of one tick a note's start comes last; the order of the others is not defined.
        """
        self._fill[event.kind](event.channel, event.one, event.two)
        self._raw.fluid_event_set_source(self._event, group)
        self._functions.fluid_sequencer_send_at(self.pointer, self._event, tick, 1)

    def withdraw(self) -> None:
        """Remove every event that has not been carried out."""
        self._raw.fluid_sequencer_remove_events(self.pointer, -1, -1, -1)

    def withdraw_group(self, group: int) -> None:
        """Remove the events of one group that have not been carried out; those of NO_GROUP cannot be removed alone."""
        if group != NO_GROUP:
            self._raw.fluid_sequencer_remove_events(self.pointer, group, -1, -1)

    def close(self) -> None:
        """Delete the sequencer; after the driver, before the synth."""
        if self.pointer is not None:
            self._functions.delete_fluid_event(self._event)
            self._raw.fluid_sequencer_unregister_client(self.pointer, self._client)
            self._functions.delete_fluid_sequencer(self.pointer)
            self.pointer = None


class Driver:
    """An open audio device that takes what a synth renders (`audio.driver` and the settings of that driver)."""

    def __init__(self, synth: Synth) -> None:
        """Open the device and start to play. Raises SynthError when FluidSynth cannot."""
        self._functions = _module()
        self.pointer: int | None = self._functions.new_fluid_audio_driver(synth.settings.pointer, synth.pointer)
        if not self.pointer:
            raise SynthError(f"The audio driver {synth.settings.text('audio.driver')} could not be opened.")

    def close(self) -> None:
        """Stop and release the device; before everything else is deleted."""
        if self.pointer is not None:
            self._functions.delete_fluid_audio_driver(self.pointer)
            self.pointer = None
