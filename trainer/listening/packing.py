"""Calls and answers between the stand and the process that judges, as bytes: the part, which both know, is only named.

A part's strokes stand in every question and many times in every judgement. It is sent once, when it is asked about
first; from then on a number stands in its place. That takes a tenth of the time.
"""

import io
import pickle
from typing import IO, Any

from trainer.listening.written import Stroke, Written

WHOLE = -1
"""The part itself; its strokes are numbered from 0."""


class Known:
    """A part that both sides have."""

    def __init__(self, part: Written) -> None:
        self.part = part
        self._numbers = {id(stroke): number for number, stroke in enumerate(part.strokes)}

    def number(self, thing: object) -> int | None:
        """What stands for it; None where it is not of the part."""
        if type(thing) is Stroke:
            return self._numbers.get(id(thing))
        return WHOLE if thing is self.part else None

    def numbered(self, number: int) -> Written | Stroke:
        """What a number stands for."""
        return self.part if number == WHOLE else self.part.strokes[number]


class _Packer(pickle.Pickler):
    def __init__(self, file: IO[bytes], known: Known) -> None:
        super().__init__(file, pickle.HIGHEST_PROTOCOL)
        self._known = known

    def persistent_id(self, obj: object) -> int | None:
        return self._known.number(obj)


class _Unpacker(pickle.Unpickler):
    def __init__(self, file: IO[bytes], known: Known) -> None:
        super().__init__(file)
        self._known = known

    def persistent_load(self, pid: int) -> Written | Stroke:
        return self._known.numbered(pid)


def packed(told: object, known: Known | None) -> bytes:
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


def unpacked(file: IO[bytes], known: Known | None) -> Any:
    """What the next bytes of a file stand for: of our own process only. Raises EOFError at the file's end.

    Args:
        file: where they are read.
        known: what the other side has, too; None for nothing.
    """
    if known is None:
        return pickle.load(file)  # noqa: S301  # from our own process, through a pipe of its own
    return _Unpacker(file, known).load()
