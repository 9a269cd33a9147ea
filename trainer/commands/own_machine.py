"""The machine of one call of the program: opened when a command first asks for it, closed when the call ends."""

from trainer.commands.terminal import complain
from trainer.session.machine import Machine
from trainer.session.own_machine import open_machine

_OPEN: list[Machine] = []


def machine(*, practising: bool = False) -> Machine:
    """The player's exercises, log, settings, rig and takes; the same machine until the call ends.

    Args:
        practising: whether passes will be played into the log. The first to ask decides.
    """
    if not _OPEN:
        made = open_machine(practising=practising, stand_in=False)
        made.notices.listen(lambda sentence: complain(f"twinspur: {sentence}"))
        _OPEN.append(made)
    return _OPEN[0]


def close_machine() -> None:
    """Close what was opened."""
    while _OPEN:
        _OPEN.pop().close()
