"""Audio files: WAV, FLAC, OGG and MP3 by their ending.

Sound is collected as 32-bit floats, which cannot clip. Only when it is complete is it written: as loud as it is, or,
if its peak would clip, turned down as a whole until the peak is just below full scale (1 dB below in formats that
lose detail, since their decoders overshoot). How far it was turned down is reported.
"""

import os
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import log10
from pathlib import Path
from types import TracebackType
from typing import IO, TYPE_CHECKING, NamedTuple

from trainer.music.problem import Problem, ProblemsError
from trainer.new_file import new_file, no_more_room, refused

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

IN_MEMORY = 96 << 20
"""Bytes of sound kept in memory (four minutes); more is kept in a temporary file beside the new one."""

_CHUNK = 1 << 16


class _Format(NamedTuple):
    name: str
    subtype: str
    most: float
    """The highest peak that is written as it is."""
    bits: int = 0
    """Of a whole-number format; 0 for one that takes floats."""

    def samples(self, sound: "NDArray[np.float32]") -> "NDArray[np.float32] | NDArray[np.int16] | NDArray[np.int32]":
        """Sound as libsndfile takes it quickest: it takes four times as long to round floats as numpy (measured)."""
        import numpy as np

        if not self.bits:
            return sound
        whole: NDArray[np.float32] = np.rint(sound * np.float32(2 ** (self.bits - 1) - 1))
        return whole.astype(np.int16) if self.bits == 16 else whole.astype(np.int32) << (32 - self.bits)


FORMATS: dict[str, _Format] = {
    ".wav": _Format("WAV", "PCM_16", 0.98, 16),
    ".flac": _Format("FLAC", "PCM_24", 0.98, 24),
    ".ogg": _Format("OGG", "VORBIS", 0.89),
    ".mp3": _Format("MP3", "MPEG_LAYER_III", 0.89),
}
"""What a file's ending means (libsndfile's names)."""


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """What was written."""

    path: Path
    frames: int
    peak: float
    """The highest absolute value before it was turned down; 1 is full scale."""
    turned_down_db: float
    """0 where it was left as it was."""


class AudioFile:
    """A new audio file; a context manager. Nothing stands at its path until `finish` has returned."""

    def __init__(self, path: Path, rate: int) -> None:
        """Raises ProblemsError for an unknown ending and where the folder cannot be written to."""
        self.path = path
        self._rate = rate
        self._format = audio_format(path)
        if not path.parent.is_dir():
            raise refused(path, FileNotFoundError())
        if path.is_dir():
            raise refused(path, IsADirectoryError())
        self._kept: list[NDArray[np.float32]] = []
        self._kept_bytes = 0
        self._moved: IO[bytes] | None = None
        self._frames = 0
        self._peak = 0.0

    def write(self, sound: "NDArray[np.float32]") -> None:
        """Add sound, an array of shape (frames, 2). Raises ProblemsError when there is no room for it."""
        if len(sound):
            self._peak = max(self._peak, float(sound.max()), -float(sound.min()))
            self._frames += len(sound)
            self._kept.append(sound)
            self._kept_bytes += sound.nbytes
            if self._kept_bytes > IN_MEMORY:
                self._move_to_disk()

    def finish(self, finishing: Callable[[Path], object] = lambda path: None) -> WrittenFile:
        """Write the file. Raises ProblemsError where the system refuses, and leaves nothing behind then.

        Args:
            finishing: does more to the file, such as writing tags, before it stands at its path.
        """
        import numpy as np  # heavy: only where sound is written
        import soundfile

        gain = min(1.0, self._format.most / self._peak) if self._peak else 1.0
        with new_file(self.path) as temporary:
            try:
                name = os.fsencode(temporary)  # the folder's name may be no UTF-8
                with soundfile.SoundFile(
                    name, "w", self._rate, 2, self._format.subtype, format=self._format.name
                ) as out:
                    for sound in self._collected():
                        out.write(self._format.samples(sound * np.float32(gain) if gain != 1.0 else sound))
                written = soundfile.info(name).frames
                finishing(temporary)
            except (soundfile.LibsndfileError, AssertionError) as error:
                raise self._incomplete(no_more_room(temporary) or str(error)) from error
            if written < self._frames:
                raise self._incomplete(no_more_room(temporary) or "the disk may be full")
        return WrittenFile(self.path, self._frames, self._peak, abs(20 * log10(gain)))

    def _move_to_disk(self) -> None:
        try:
            if self._moved is None:
                self._moved = tempfile.TemporaryFile(dir=self.path.parent)  # noqa: SIM115  # closed by `__exit__`
            for sound in self._kept:
                self._moved.write(sound.tobytes())
            self._moved.flush()
        except OSError as error:
            raise refused(self.path, error) from error
        self._kept, self._kept_bytes = [], 0

    def _collected(self) -> "Iterator[NDArray[np.float32]]":
        import numpy as np

        if self._moved is not None:
            self._moved.seek(0)
            while chunk := self._moved.read(_CHUNK * 8):
                yield np.frombuffer(chunk, np.float32).reshape(-1, 2)
        yield from self._kept

    def _incomplete(self, reason: str) -> ProblemsError:
        what = f"the sound could not be written whole ({reason.rstrip('.')})"
        hint = "Make room on the disk, or choose another place"
        return ProblemsError([Problem(str(self.path), 0, 0, what, hint=hint)])

    def __enter__(self) -> "AudioFile":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._kept = []
        if self._moved is not None:
            self._moved.close()


def audio_format(path: Path) -> _Format:
    """The format that a file's ending stands for. Raises ProblemsError for an unknown one."""
    found = FORMATS.get(path.suffix.casefold())
    if found is None:
        what = f'an audio file cannot end in "{path.suffix}"' if path.suffix else "the file's name has no ending"
        raise ProblemsError([Problem(str(path), 0, 0, what, ", ".join(FORMATS))])
    return found
