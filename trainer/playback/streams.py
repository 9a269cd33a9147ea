"""Streams of sound, piece by piece: cut, and laid over each other."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Stereo: TypeAlias = NDArray[np.float32]
else:
    Stereo = object
    """float32, of shape (frames, 2)."""


def in_pieces(samples: "NDArray[np.float32]", step: int) -> Iterator[Stereo]:
    """Mono samples on both sides, so many frames at a time."""
    import numpy as np

    for first in range(0, len(samples), step):
        yield np.repeat(samples[first : first + step, None], 2, axis=1)


def together(own: Iterator[Stereo], other: Iterator[Stereo], late: int) -> Iterator[Stereo]:
    """Two streams of sound added; `other` begins `late` frames after `own`, or before it."""
    import numpy as np

    step = 4_096
    silence = np.zeros((abs(late), 2), np.float32)
    first, second = (_steps(each, step, silence if waits else silence[:0])
                     for each, waits in ((own, late < 0), (other, late > 0)))  # fmt: skip
    while True:
        one, two = next(first, None), next(second, None)
        if one is None and two is None:
            return
        out = np.zeros((step, 2), np.float32)
        for sound in (one, two):
            if sound is not None:
                out[: len(sound)] += sound
        yield np.clip(out, -1.0, 1.0)


def _steps(sounds: Iterator[Stereo], step: int, before: Stereo) -> Iterator[Stereo]:
    """A stream cut into equal steps, with something before it."""
    import numpy as np

    rest = before
    for sound in sounds:
        rest = np.concatenate([rest, sound]) if len(rest) else sound
        while len(rest) >= step:
            yield rest[:step]
            rest = rest[step:]
    while len(rest):
        yield rest[:step]
        rest = rest[step:]
