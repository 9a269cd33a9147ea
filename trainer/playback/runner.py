"""The thread that keeps a transport going while something else, such as a screen, is busy."""

import threading
from collections.abc import Callable

from trainer.playback.sink import SinkGoneError
from trainer.playback.transport import Transport

PAUSE_SECONDS = 0.02
"""Between two calls of `advance`; the look-ahead is many times longer."""


class Runner:
    """Calls a transport's `advance` until it is closed; a context manager."""

    def __init__(
        self,
        transport: Transport,
        *,
        on_gone: Callable[[SinkGoneError], None] | None = None,
        on_end: Callable[[], None] | None = None,
        pause_seconds: float = PAUSE_SECONDS,
    ) -> None:
        """Start the thread.

        Args:
            transport: what to keep going; it may be started and stopped as often as one likes.
            on_gone: told, in the thread, when the sink is gone; the thread ends with that.
            on_end: told, in the thread, each time the playing has come to its end or was stopped.
            pause_seconds: between two calls.
        """
        self._transport = transport
        self._on_gone, self._on_end = on_gone, on_end
        self._pause = pause_seconds
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="transport", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        was_running = False
        while not self._closing.wait(self._pause):
            try:
                running = self._transport.advance()
            except SinkGoneError as gone:
                if self._on_gone is not None:
                    self._on_gone(gone)
                return
            if was_running and not running and self._on_end is not None:
                self._on_end()
            was_running = running

    def close(self) -> None:
        """End the thread; the transport plays no further. May be called twice, but not from a callback."""
        self._closing.set()
        self._thread.join()

    def __enter__(self) -> "Runner":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
