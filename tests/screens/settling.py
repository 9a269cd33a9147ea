"""Waiting until nothing is under way any more: no worker, no message, no refresh."""

from contextlib import suppress

from textual.pilot import Pilot
from textual.worker import WorkerCancelled


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
