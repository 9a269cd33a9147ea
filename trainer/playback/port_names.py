"""Choosing a MIDI port by its name, never by its number: numbers change whenever something is plugged in."""

import re
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final

_NUMBERS: Final = re.compile(r" \d+:\d+$")  # ALSA's "client:port" numbers, which RtMidi appends


class PortError(Exception):
    """A MIDI port cannot be opened; the text is plain sentences with the fix."""


def lasting_name(name: str) -> str:
    """A port's name without the numbers that change from one plugging to the next."""
    return _NUMBERS.sub("", name)


def choose_port(names: Sequence[str], wanted: str) -> int | None:
    """The index of the port that is meant by `wanted`: its name, or a part of it that no other name contains.

    Letter case does not matter, nor do the numbers at the end. None where no name fits.

    Raises:
        PortError: several ports fit.
    """
    if wanted in names:
        return list(names).index(wanted)
    folded = [lasting_name(name).casefold() for name in names]
    sought = lasting_name(wanted).casefold()
    same = [index for index, name in enumerate(folded) if name == sought]
    fitting = same or [index for index, name in enumerate(folded) if sought in name]
    if not fitting or not sought:
        return None
    if len(fitting) > 1:
        several = ", ".join(repr(names[index]) for index in fitting)
        raise PortError(f"Several MIDI ports are called {wanted!r}: {several}. Give more of the name.")
    return fitting[0]


def no_such_port(names: Sequence[str], wanted: str, direction: str) -> PortError:
    """What to say when no port is called `wanted`; `direction` is "output" or "input"."""
    if not names:
        return PortError(f"There is no MIDI {direction} called {wanted!r}: no MIDI {direction} is connected at all.")
    near = get_close_matches(wanted, names, n=1, cutoff=0.4)
    guess = f" Did you mean {near[0]!r}?" if near else ""
    listed = ", ".join(repr(name) for name in names)
    return PortError(f"There is no MIDI {direction} called {wanted!r}.{guess} Connected now: {listed}.")
