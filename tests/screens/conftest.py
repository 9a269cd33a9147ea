"""Screens are tested without waiting for what is not the screen's: an idle event loop is enough."""

import asyncio
import time

import pytest

LOOK_S = 0.01
"""How long the event loop is watched at a time."""

IDLE = 0.3
"""Up to this share of that time the loop's thread may work and still counts as idle: timers that repaint go on."""


async def _loop_idle(min_sleep: float = LOOK_S, max_sleep: float = 1.0) -> None:
    """Wait until the event loop's own thread has little to do, for `max_sleep` seconds at most.

    Textual's own asks whether the whole process is idle; while music plays or a take is judged in a thread beside the
    screen it never is, and each key pressed would be waited for the full second.
    """
    begun = time.monotonic()
    while (elapsed := time.monotonic() - begun) < max_sleep:
        worked = time.thread_time()
        await asyncio.sleep(LOOK_S)
        if time.thread_time() - worked < IDLE * LOOK_S and elapsed + LOOK_S > min_sleep:
            return


@pytest.fixture(autouse=True)
def _waiting_for_the_loop_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("textual.pilot.wait_for_idle", _loop_idle)
    monkeypatch.setattr("textual.app.wait_for_idle", _loop_idle)
