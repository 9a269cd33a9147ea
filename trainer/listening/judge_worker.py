"""The process that judges takes: calls come in on descriptor 0, answers go out on descriptor 1, both pickled.

It keeps the work of judging out of the stand's own process, where a busy screen would hold it up, and where it would
hold up the screen and the playing. It ends when its owner closes the pipe or dies.

The strokes of a part stand in every question and many times in every judgement. So a part is sent once, when it is
first asked about; from then on a number stands for each of its strokes, which takes a tenth of the time. An answer's
length stands before it in eight bytes, because its reader gets it from the pipe piece by piece.
"""

import io
import os
import pickle
import signal
from traceback import format_exc
from typing import IO, Any

from trainer.listening.live_judge import LocalJudge, WorkerMistake, WorkerProblems
from trainer.listening.written import WrittenPart, WrittenStroke
from trainer.music.problem import ProblemsError

WHOLE = -1
"""The part itself; its strokes are numbered from 0."""


class SharedPart:
    """A part that both sides have."""

    def __init__(self, part: WrittenPart) -> None:
        self.part = part
        self._numbers = {id(stroke): number for number, stroke in enumerate(part.strokes)}

    def number(self, thing: object) -> int | None:
        """What stands for it; None where it is not of the part."""
        if type(thing) is WrittenStroke:
            return self._numbers.get(id(thing))
        return WHOLE if thing is self.part else None

    def numbered(self, number: int) -> WrittenPart | WrittenStroke:
        """What a number stands for."""
        return self.part if number == WHOLE else self.part.strokes[number]


class _Packer(pickle.Pickler):
    def __init__(self, file: IO[bytes], known: SharedPart) -> None:
        super().__init__(file, pickle.HIGHEST_PROTOCOL)
        self._known = known

    def persistent_id(self, obj: object) -> int | None:
        return self._known.number(obj)


class _Unpacker(pickle.Unpickler):
    def __init__(self, file: IO[bytes], known: SharedPart) -> None:
        super().__init__(file)
        self._known = known

    def persistent_load(self, pid: int) -> WrittenPart | WrittenStroke:
        return self._known.numbered(pid)


def packed(told: object, known: SharedPart | None) -> bytes:
    """The bytes of something.

    Args:
        told: what is told.
        known: what the other side has, too; None for nothing.
    """
    if known is None:
        return pickle.dumps(told, pickle.HIGHEST_PROTOCOL)
    file = io.BytesIO()
    _Packer(file, known).dump(told)
    return file.getvalue()


def unpacked(file: IO[bytes], known: SharedPart | None) -> Any:
    """What the next bytes of a file stand for: of our own process only. Raises EOFError at the file's end.

    Args:
        file: where they are read.
        known: what the other side has, too; None for nothing.
    """
    if known is None:
        return pickle.load(file)  # noqa: S301  # from our own process, through a pipe of its own
    return _Unpacker(file, known).load()


PART = "part"
"""The call that tells of which part is asked from now on (`packing`)."""
ANSWERED = frozenset({"look", "judge", "keep"})
"""Calls that are answered, in their order."""
LENGTH_BYTES = 8
"""Of an answer's length, which is sent before it."""


def serve(calls: IO[bytes], answers: IO[bytes]) -> None:
    """Carry out calls until there are no more; each is a name of `LocalJudge`'s and its arguments."""
    judging = LocalJudge()
    known: SharedPart | None = None
    while True:
        try:
            name, arguments = unpacked(calls, known)
        except EOFError:
            return
        if name == PART:
            known = SharedPart(*arguments)
            continue
        told: object = None
        try:
            told = getattr(judging, name)(*arguments)
        except ProblemsError as error:
            told = WorkerProblems(tuple(error.problems))
        except Exception:  # a mistake of ours is the owner's to tell
            told = WorkerMistake(format_exc())
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
