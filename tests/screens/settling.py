"""Waiting until nothing is under way any more: no worker, no message, no refresh."""

from textual.pilot import Pilot


async def settled(pilot: Pilot[None], rounds: int = 4) -> None:
    """Let all workers end and all messages arrive; what they start in turn as well."""
    for _ in range(rounds):
        await pilot.pause()
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
