"""MIDI ports by RtMidi: which there are, and opening one by its name."""

import platform
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal, cast

from trainer.playback import sound_log
from trainer.playback.fluid import LibraryMissingError
from trainer.playback.port_names import PortError, choose_port, no_such_port

if TYPE_CHECKING:
    import rtmidi

AUTOMATIC: Final = "auto"
"""The name that stands for every MIDI system that answers."""

_Direction = Literal["output", "input"]

_ALSA: Final = Path("/dev/snd/seq")
"""ALSA's sequencer; without it there is no use in a second try."""

_INSTALL: Final = {
    "Linux": "On Debian or Ubuntu: sudo apt install libasound2, then pip install --force-reinstall python-rtmidi.",
}

_MISSING: Final = {
    "Linux": "no ALSA sequencer (try: sudo modprobe snd-seq) and no JACK server answers",
}


@dataclass(frozen=True, slots=True)
class MidiPort:
    """One port that is connected now."""

    name: str
    system: str
    """RtMidi's name for the MIDI system: "alsa", "jack", "core" (macOS) or "winmm" (Windows)."""


def midi_systems() -> tuple[str, ...]:
    """The MIDI systems that this RtMidi can use, in the order they are tried. Raises LibraryMissingError."""
    try:
        import rtmidi
    except ImportError as error:
        hint = _INSTALL.get(platform.system(), "Install it again: pip install --force-reinstall python-rtmidi.")
        raise LibraryMissingError(f"MIDI needs RtMidi, which cannot be loaded ({error}). {hint}") from error

    dummy = rtmidi.API_RTMIDI_DUMMY
    return tuple(rtmidi.get_api_name(number) for number in rtmidi.get_compiled_api() if number != dummy)


def _asked(system: str) -> tuple[str, ...]:
    systems = midi_systems()
    if system == AUTOMATIC:
        return systems
    if system not in systems:
        raise PortError(f"There is no MIDI system {system!r} here. Choose one of: {', '.join(systems)}, {AUTOMATIC}.")
    return (system,)


def _number(system: str) -> int:
    import rtmidi

    return next(number for number in rtmidi.get_compiled_api() if rtmidi.get_api_name(number) == system)


def _log_error(kind: int, message: str, _data: object) -> None:
    sound_log.write_log("RtMidi", f"{message} ({kind})")


def _client(direction: _Direction, system: str, name: str) -> "rtmidi.MidiOut | rtmidi.MidiIn | None":
    """A client of one MIDI system; None where the system does not answer.

    The first try can fail on ALSA where the second succeeds, while its kernel module is being loaded (mido #542).
    """
    import rtmidi

    sound_log.hush_system()
    kind = rtmidi.MidiOut if direction == "output" else rtmidi.MidiIn
    for again in (system == "alsa" and _ALSA.exists(), False):
        try:
            client = kind(_number(system), name)
        except rtmidi.RtMidiError as error:
            sound_log.write_log("RtMidi", str(error))
            if not again:
                return None
            time.sleep(0.05)
            continue
        client.set_error_callback(_log_error)
        return client
    return None


def _ports(direction: _Direction, system: str) -> tuple[MidiPort, ...]:
    found = []
    for one in _asked(system):
        client = _client(direction, one, "twinspur-list")
        if client is not None:
            found += [MidiPort(name, one) for name in client.get_ports()]
            client.delete()
    return tuple(port for port in found if "twinspur-list" not in port.name)


def midi_outputs(system: str = AUTOMATIC) -> tuple[MidiPort, ...]:
    """The ports that MIDI can be sent to now. Raises PortError for an unknown system, LibraryMissingError."""
    return _ports("output", system)


def midi_inputs(system: str = AUTOMATIC) -> tuple[MidiPort, ...]:
    """The ports that MIDI comes from now. Raises PortError for an unknown system, LibraryMissingError."""
    return _ports("input", system)


def _no_system() -> PortError:
    why = _MISSING.get(platform.system(), "the system's MIDI service does not answer")
    return PortError(f"MIDI is not available here: {why}.")


def _open(
    direction: _Direction, wanted: str, system: str, client_name: str
) -> tuple["rtmidi.MidiOut | rtmidi.MidiIn", MidiPort]:
    import rtmidi

    known: list[str] = []
    answered = False
    for one in _asked(system):
        client = _client(direction, one, client_name)
        if client is None:
            continue
        answered = True
        names = client.get_ports()
        index = choose_port(names, wanted)
        if index is not None:
            try:
                client.open_port(index, "out" if direction == "output" else "in")
            except (rtmidi.RtMidiError, ValueError) as error:
                raise PortError(f"The MIDI {direction} {names[index]!r} could not be opened: {error}") from error
            return client, MidiPort(names[index], one)
        known += names
        client.delete()
    raise no_such_port(known, wanted, direction) if answered else _no_system()


def _open_virtual(direction: _Direction, name: str, system: str) -> tuple["rtmidi.MidiOut | rtmidi.MidiIn", MidiPort]:
    import rtmidi

    for one in _asked(system):
        client = _client(direction, one, name)
        if client is None:
            continue
        try:
            client.open_virtual_port("out" if direction == "output" else "in")
        except (rtmidi.RtMidiError, NotImplementedError) as error:
            raise PortError(f"This system has no virtual MIDI ports ({error}). Choose a connected port.") from error
        return client, MidiPort(name, one)
    raise _no_system()


def open_output(wanted: str, system: str = AUTOMATIC, virtual: bool = False) -> tuple["rtmidi.MidiOut", MidiPort]:
    """Open the output called `wanted`, or make a virtual one of that name. Raises PortError, LibraryMissingError."""
    opened, port = _open_virtual("output", wanted, system) if virtual else _open("output", wanted, system, "twinspur")
    return cast("rtmidi.MidiOut", opened), port


def open_input(wanted: str, system: str = AUTOMATIC, virtual: bool = False) -> tuple["rtmidi.MidiIn", MidiPort]:
    """Open the input called `wanted`, or make a virtual one of that name. Raises PortError, LibraryMissingError."""
    opened, port = _open_virtual("input", wanted, system) if virtual else _open("input", wanted, system, "twinspur")
    return cast("rtmidi.MidiIn", opened), port
