"""Waiting until nothing is under way any more: no worker, no message, no refresh."""

import asyncio
import time
from contextlib import suppress

from textual.pilot import Pilot
from textual.worker import WorkerCancelled

LOOK_S = 0.01
"""How long the event loop is watched at a time."""

LOOKS = 3
"""So many times in a row it must be idle: what comes from a thread may take a moment to arrive."""

IDLE = 0.3
"""Up to this share of that time the loop's thread may work and still counts as idle: timers that repaint go on."""

WAITS = ("textual.pilot.wait_for_idle", "textual.app.wait_for_idle")
"""Where Textual waits after each key; `loop_idle` takes its place."""


async def loop_idle(min_sleep: float = LOOK_S, max_sleep: float = 1.0) -> None:
    """Wait until the event loop's own thread has little to do, for `max_sleep` seconds at most.

    Textual's own asks whether the whole process is idle; while music plays or a take is judged in a thread beside the
    screen it never is, and each key pressed would be waited for the full second.
    """
    begun, idle = time.monotonic(), 0
    while (elapsed := time.monotonic() - begun) < max_sleep:
        worked = time.thread_time()
        await asyncio.sleep(LOOK_S)
        idle = idle + 1 if time.thread_time() - worked < IDLE * LOOK_S else 0
        if idle >= LOOKS and elapsed + LOOK_S > min_sleep:
            return


async def settled(pilot: Pilot[None], rounds: int = 4) -> None:
    """Let all workers end and all messages arrive; what they start in turn as well."""
    for _ in range(rounds):
        await pilot.pause()
        with suppress(WorkerCancelled):  # another one has taken its place, which the next round waits for
            await pilot.app.workers.wait_for_complete()
        await pilot.pause()


def notices(pilot: Pilot[None]) -> str:
    """What the application has told in its corner."""
    return "\n".join(note.message for note in pilot.app._notifications)
