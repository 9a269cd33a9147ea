"""Sound devices by name: finding the one that is meant, and what a server's device is really called.

A sound server's default is one device today and another tomorrow, and PortAudio and FluidSynth know it by one name
only, such as “pulse” or “default”. PulseAudio and PipeWire tell, through `pactl`, which device that is, and by what bus
it is connected.
"""

import os
import re
import shutil
import subprocess
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

from trainer.listening.calibration import is_wireless
from trainer.music.problem import Problem, ProblemsError

SERVERS_OWN: Final = frozenset({"", "default", "pulse", "pulseaudio", "pipewire", "sysdefault"})
"""Names that stand for whatever the sound server has chosen."""
THROUGH_SERVER: Final = frozenset({"pulseaudio", "pipewire", "alsa"})
"""FluidSynth's drivers whose default device is the sound server's, where one runs."""
_KINDS: Final = {
    "output": ("sinks", "Default Sink", "PULSE_SINK"),
    "input": ("sources", "Default Source", "PULSE_SOURCE"),
}
_PATIENCE_S: Final = 2.0
_WIRELESS_BUS: Final = frozenset({"bluetooth"})


@dataclass(frozen=True, slots=True)
class DeviceName:
    """A device, as it is called and connected."""

    name: str
    """Its own name where the server tells it, else the one that was given."""
    about: str = ""
    """How the server describes it, for people."""
    bus: str = ""
    """By what it is connected (`usb`, `pci`, `bluetooth`), where the server tells."""

    @property
    def wireless(self) -> bool:
        """Whether it is connected by Bluetooth."""
        return self.bus in _WIRELESS_BUS or is_wireless(self.name) or is_wireless(self.about)


def real_device(name: str, kind: str) -> DeviceName:
    """The device that a name stands for now.

    Args:
        name: as PortAudio calls it; empty for the default.
        kind: `output` or `input`.
    """
    if name.casefold() not in SERVERS_OWN:
        return DeviceName(name)
    listed, default, variable = _KINDS[kind]
    chosen = os.environ.get(variable) or _told(_asked("info"), default)
    if not chosen:
        return DeviceName(name or "default")
    return described(_asked("list", listed), chosen)


def driven_device(driver: str) -> DeviceName:
    """The output that a driver of FluidSynth plays on by default."""
    found = real_device("", "output") if driver in THROUGH_SERVER else DeviceName(driver)
    return DeviceName(driver) if found.name == "default" else found


def described(listing: str, name: str) -> DeviceName:
    """What a listing of `pactl` tells of a device."""
    for block in re.split(r"\n(?=\S)", listing):
        if _told(block, "Name") == name:
            bus = re.search(r'^\s*device\.bus = "([^"\n]*)"', block, re.MULTILINE)
            api = re.search(r'^\s*device\.api = "([^"\n]*)"', block, re.MULTILINE)
            by_air = api is not None and api[1].startswith("bluez")
            return DeviceName(name, _told(block, "Description"), "bluetooth" if by_air else bus[1] if bus else "")
    return DeviceName(name)


def _told(text: str, field: str) -> str:
    found = re.search(rf"^\s*{field}: (.*)$", text, re.MULTILINE)
    return found[1].strip() if found else ""


def _asked(*words: str) -> str:
    """What `pactl` answers; nothing where it is missing or no server runs."""
    program = shutil.which("pactl")
    if program is None:
        return ""
    try:
        done = subprocess.run(  # noqa: S603  # our own words only
            [program, *words], capture_output=True, text=True, errors="replace", timeout=_PATIENCE_S, check=False,
            env={**os.environ, "LC_ALL": "C"},
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout if done.returncode == 0 else ""


class NoCardError(Exception):
    """The machine has no sound card that can be reached, told as a sentence with what to do."""


def find_device(name: str, kind: str, loaded: Callable[[], object] = lambda: None) -> str:
    """The full name of a device.

    Args:
        name: its name or a part of it; empty for the system's own choice.
        kind: `output` or `input`.
        loaded: called once the library is loaded, before it looks for devices.

    Raises:
        NoCardError: PortAudio is missing, or there is no device at all.
        ProblemsError: no device, or more than one, has such a name.
    """
    try:
        from sounddevice import query_devices as query
    except OSError as error:
        what = f"The sound card cannot be reached: {error}"
        raise NoCardError(f"{what}. Install PortAudio (Debian: libportaudio2).") from None
    loaded()
    every = [str(each["name"]) for each in query() if each[f"max_{kind}_channels"] > 0]
    if not every:
        raise NoCardError(
            f"There is no sound {kind} on this machine. Connect a sound card, or start the sound server "
            "(PipeWire or PulseAudio); takes in files are judged with twinspur judge."
        )
    if not name:
        with suppress(Exception):
            return str(query(kind=kind)["name"])
        return every[0]
    same = [each for each in every if each.casefold() == name.casefold()]
    fitting = same or [each for each in every if name.casefold() in each.casefold()]
    if len(set(fitting)) == 1:
        return fitting[0]
    what = f"Several sound {kind}s are called “{name}”" if fitting else f"There is no sound {kind} called “{name}”"
    listed = ", ".join(dict.fromkeys(fitting or every))
    raise ProblemsError([Problem("", 0, 0, what, listed, "Give one of these names")])
