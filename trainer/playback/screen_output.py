"""The screen is painted on a descriptor of its own, so that what C libraries print on descriptor 2 can go to their log.

FluidSynth, ALSA, JACK and GLib have handlers for their words (`playback.sound_log`); PortAudio has none: where an input
goes away or cannot be opened, it would print lines across the screen.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress

_apart = False


@contextmanager
def own_screen_descriptor() -> Iterator[None]:
    """While it runs Textual, which paints on `sys.__stderr__`, paints on a copy of the terminal's descriptor."""
    global _apart
    usual = sys.__stderr__
    if usual is None or usual.closed or usual.fileno() != 2:
        yield
        return
    usual.flush()
    kept = os.dup(2)
    own = os.fdopen(os.dup(2), "w", encoding=usual.encoding, errors=usual.errors)
    sys.__stderr__, _apart = own, True  # type: ignore[misc]
    try:
        yield
    finally:
        with suppress(OSError):  # a terminal that is gone
            own.flush()
        sys.__stderr__, _apart = usual, False  # type: ignore[misc]
        os.dup2(kept, 2)
        os.close(kept)
        with suppress(OSError):
            own.close()


def stderr_to_sound_log() -> None:
    """From now on, while the screen is painted apart, what is printed on descriptor 2 goes to the sound log."""
    if _apart:
        from trainer.playback import sound_log

        with sound_log.open_log() as log:
            os.dup2(log.fileno(), 2)
