"""A mistake of the program's own: it is written down where it can be handed on, and told in one sentence."""

import traceback
from datetime import datetime

from trainer.places import state_folder

KEPT = 10
"""Descriptions that are kept; the oldest go."""


STOPPED = "and had to stop. Your record is safe."
BESIDE = "and goes on as well as it can. Where something does not work now, leave and start it again."


def write_down(error: BaseException, now: datetime, then: str = STOPPED) -> str:
    """Keep how a mistake came about; answers with what to tell the player.

    Args:
        error: what nobody expected.
        now: the time of day, after which the description is named.
        then: what comes of it.
    """
    what = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    sorry = f"Twinspur made a mistake of its own ({what.splitlines()[0][:200]}) {then}"
    folder = state_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"mistake-{now:%Y%m%d-%H%M%S}.txt"
        path.write_text("".join(traceback.format_exception(error)), "utf-8")
        for old in sorted(folder.glob("mistake-*.txt"))[:-KEPT]:
            old.unlink(missing_ok=True)
    except OSError:
        return sorry
    return f"{sorry} How it came about is written in {path}: please hand that on to its makers."
