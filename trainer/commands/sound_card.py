"""The sound card as the commands use it: opened by name, quiet on the terminal, closed without hanging."""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.commands.line import MachineError
from trainer.listening.calibration import is_wireless
from trainer.listening.devices import real_device
from trainer.music.problem import ProblemsError
from trainer.session.duplex_card import close_stream

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

WAKING = 0.4
"""Seconds of silence by which a sound server is woken."""
USUAL_RATE = 48_000


@contextmanager
def quiet_descriptor() -> Iterator[None]:
    """What PortAudio and the libraries behind it print from C on descriptor 2 goes to the log of the sound libraries.

    Our own words go on where they went: Python's standard error is moved to a descriptor of its own meanwhile.
    """
    from trainer.playback import sound_log

    error, kept = sys.stderr, os.dup(2)
    ours = None
    with sound_log.open_log() as log:
        try:
            with suppress(OSError, ValueError, AttributeError):
                if error.fileno() == 2:
                    ours = os.fdopen(os.dup(2), "w", encoding=error.encoding, errors=error.errors, buffering=1)
                    sys.stderr = ours
            os.dup2(log.fileno(), 2)
            yield
        finally:
            if ours is not None:
                ours.flush()
                sys.stderr = error
                ours.close()
            os.dup2(kept, 2)
            os.close(kept)


@dataclass(frozen=True, slots=True)
class Card:
    """The two devices that play and record."""

    output: str
    """The output's full name."""
    source: str
    """The input's full name."""

    @property
    def real_output(self) -> str:
        """The output itself, where its name only stands for the sound server's choice."""
        return real_device(self.output, "output").name

    @property
    def real_source(self) -> str:
        """The input itself."""
        return real_device(self.source, "input").name


def find_card(output: str, source: str) -> Card:
    """The devices of two names, or parts of names; the system's own where a name is empty.

    Raises:
        MachineError: PortAudio is missing, or there is no device at all.
        ProblemsError: no device, or more than one, has such a name.
    """
    return Card(_device(output, "output"), _device(source, "input"))


def _device(name: str, kind: str) -> str:
    from trainer.listening.devices import NoCardError, find_device
    from trainer.playback import sound_log

    try:
        return find_device(name, kind, sound_log.hush_system)
    except NoCardError as error:
        raise MachineError(str(error)) from None


def refuse_wireless(card: Card) -> None:
    """Raise ProblemsError where one of the devices is connected by Bluetooth, or the server's choice is."""
    from trainer.listening.calibration import wireless_problem

    for name, kind in ((card.output, "output"), (card.source, "input")):
        device = real_device(name, kind)
        if device.wireless or is_wireless(name):
            raise ProblemsError([wireless_problem(device.about or device.name)])


def wake(card: Card, rate: int) -> None:
    """Open the devices for a moment: the first opening after a rest comes 15 ms later than the others (PulseAudio).

    Raises ProblemsError where they cannot be opened.
    """
    import numpy as np

    from trainer.listening.duplex import Duplex

    silence = np.zeros((int(WAKING * rate), 2), np.float32)
    stream = Duplex(iter([silence]), rate, output=card.output, source=card.source)
    try:
        stream.begin()
        while not (stream.all_played or stream.vanished):
            time.sleep(0.01)
    finally:
        close_stream(stream)


def stereo(samples: "NDArray[np.float32]") -> "NDArray[np.float32]":
    """Mono samples for both sides."""
    import numpy as np

    return np.repeat(samples[:, None], 2, axis=1)
