"""A device of the sound card by its name."""

from collections.abc import Callable
from contextlib import suppress

from trainer.music.problem import Problem, ProblemsError


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
