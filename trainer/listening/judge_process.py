"""The process that judges takes: calls in on descriptor 0, answers out on descriptor 1, both pickled.

It keeps the judging out of the stand's own process, where a busy screen would hold it up, and it the screen and the
playing. It ends when its owner closes the pipe or dies.
"""

import os
import pickle
import signal
from typing import IO

from trainer.listening.ahead import JudgesHere, Trouble
from trainer.music.problem import ProblemsError

ANSWERED = frozenset({"look", "judge", "keep"})
"""Calls that are answered, in their order."""


def serve(calls: IO[bytes], answers: IO[bytes]) -> None:
    """Carry out calls until there are no more; each is a name of `JudgesHere`'s and its arguments."""
    judging = JudgesHere()
    while True:
        try:
            name, arguments = pickle.load(calls)  # noqa: S301  # from our owner, through a pipe of its own
        except EOFError:
            return
        told: object = None
        try:
            told = getattr(judging, name)(*arguments)
        except ProblemsError as error:
            told = Trouble(tuple(error.problems))
        except Exception as error:  # a mistake of ours is the owner's to tell
            told = error if name in ANSWERED else None
        if name in ANSWERED:
            pickle.dump(told, answers, pickle.HIGHEST_PROTOCOL)
            answers.flush()


def main() -> int:
    """Serve the owner."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what libraries print goes to the log
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with os.fdopen(0, "rb") as calls:
        serve(calls, answers)
    return 0


if __name__ == "__main__":
    os._exit(main())
