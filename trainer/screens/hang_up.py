"""Noticing that the terminal is gone, so that no note keeps sounding in a program that nobody sees.

When a terminal closes, its writes fail and Textual's writer ends; its own loop then waits for that writer for ever, so
neither a signal handler of the loop nor an action is carried out any more (seen: a program that spun for an hour after
its window was closed). A thread of our own watches the terminal instead.
"""

import os
import select
import sys
import threading
from collections.abc import Callable

LOOK_MS = 500
"""Time between two looks. `poll` reports a hang-up at once; this bounds how long the thread outlives `stop`."""
GRACE_SECONDS = 2.0
"""How long an orderly exit may take before the process is ended at once."""


class HangUpWatch:
    """Watches a terminal until it is told to stop; a context manager."""

    def __init__(
        self, on_gone: Callable[[], None], descriptor: int | None = None, leave: Callable[[int], None] = os._exit
    ) -> None:
        """Begin to watch.

        Args:
            on_gone: called once, in the watching thread, when the terminal is gone: silence and put away.
            descriptor: the terminal; standard input by default. What is no terminal is not watched.
            leave: ends the process with a code; called after `on_gone` when nobody stopped the watch.
        """
        self._on_gone, self._leave = on_gone, leave
        self._stopped = threading.Event()
        self._descriptor = sys.__stdin__.fileno() if descriptor is None and sys.__stdin__ else descriptor
        self._thread = threading.Thread(target=self._watch, name="hang-up", daemon=True)
        if self._descriptor is not None and hasattr(select, "poll") and os.isatty(self._descriptor):
            self._thread.start()

    def _watch(self) -> None:
        poll = select.poll()
        poll.register(self._descriptor or 0, 0)  # hang-ups and errors are told unasked
        while not self._stopped.is_set():
            if poll.poll(LOOK_MS) and not self._stopped.is_set():
                self._on_gone()
                if not self._stopped.wait(GRACE_SECONDS):
                    self._leave(0)
                return

    def stop(self) -> None:
        """Stop watching: the program ends by itself."""
        self._stopped.set()

    def __enter__(self) -> "HangUpWatch":
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
