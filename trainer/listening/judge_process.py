"""The process that judges takes: calls in on descriptor 0, answers out on descriptor 1, both packed (`packing`).

An answer's length stands before it in eight bytes: whoever waits for it reads a pipe, which gives it piece by piece.
It keeps the judging out of the stand's own process, where a busy screen would hold it up, and it the screen and the
playing. It ends when its owner closes the pipe or dies.
"""

import os
import signal
from traceback import format_exc
from typing import IO

from trainer.listening.ahead import JudgesHere, Mistake, Trouble
from trainer.listening.packing import Known, packed, unpacked
from trainer.music.problem import ProblemsError

PART = "part"
"""The call that tells of which part is asked from now on (`packing`)."""
ANSWERED = frozenset({"look", "judge", "keep"})
"""Calls that are answered, in their order."""
LENGTH_BYTES = 8
"""Of an answer's length, which is sent before it."""


def serve(calls: IO[bytes], answers: IO[bytes]) -> None:
    """Carry out calls until there are no more; each is a name of `JudgesHere`'s and its arguments."""
    judging = JudgesHere()
    known: Known | None = None
    while True:
        try:
            name, arguments = unpacked(calls, known)
        except EOFError:
            return
        if name == PART:
            known = Known(*arguments)
            continue
        told: object = None
        try:
            told = getattr(judging, name)(*arguments)
        except ProblemsError as error:
            told = Trouble(tuple(error.problems))
        except Exception:  # a mistake of ours is the owner's to tell
            told = Mistake(format_exc())
        if name in ANSWERED:
            answer = packed(told, known)
            answers.write(len(answer).to_bytes(LENGTH_BYTES, "little") + answer)
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
