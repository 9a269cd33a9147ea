"""Changing one thing of what a transport plays, and keeping one going from a thread, as a screen does."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from trainer.playback.transport import Transport


def change(transport: Transport, **fields: Any) -> None:
    """Change these fields of the plan."""
    transport.change(replace(transport.plan, **fields))


@contextmanager
def kept_going(transport: Transport, pause_seconds: float = 0.02) -> Iterator[None]:
    """Let a thread call `advance` meanwhile."""
    closing = threading.Event()

    def run() -> None:
        while not closing.wait(pause_seconds):
            transport.advance()

    thread = threading.Thread(target=run, name="transport")
    thread.start()
    try:
        yield
    finally:
        closing.set()
        thread.join()
