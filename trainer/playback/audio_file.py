"""Audio files: WAV, FLAC, OGG and MP3 by their ending.

Sound is collected as 32-bit floats, which cannot clip. Only when it is complete is it written: as loud as it is, or,
if its peak would clip, turned down as a whole until the peak is just below full scale (1 dB below in formats that
lose detail, since their decoders overshoot). How far it was turned down is reported.
"""

import tempfile
from dataclasses import dataclass
from math import log10
from pathlib import Path
from types import TracebackType
from typing import IO, TYPE_CHECKING, NamedTuple

from trainer.music.problem import Problem, ProblemsError
from trainer.playback.new_file import new_file, refused

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


FORMATS: dict[str, _Format] = {
    ".wav": _Format("WAV", "PCM_16", 0.98),
    ".flac": _Format("FLAC", "PCM_24", 0.98),
    ".ogg": _Format("OGG", "VORBIS", 0.89),
    ".mp3": _Format("MP3", "MPEG_LAYER_III", 0.89),
}
"""What a file's ending means (libsndfile's names)."""


@dataclass(frozen=True, slots=True)
class Written:
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
        self._sound: IO[bytes] = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY, dir=str(path.parent))  # noqa: SIM115
        self._frames = 0
        self._peak = 0.0

    def write(self, sound: "NDArray[np.float32]") -> None:
        """Add sound, an array of shape (frames, 2). Raises ProblemsError when there is no room for it."""
        if len(sound):
            self._peak = max(self._peak, float(sound.max()), -float(sound.min()))
            self._frames += len(sound)
            try:
                self._sound.write(sound.tobytes())
            except OSError as error:
                raise refused(self.path, error) from error

    def finish(self) -> Written:
        """Write the file. Raises ProblemsError where the system refuses, and leaves nothing behind then."""
        import numpy as np  # heavy: only where sound is written
        import soundfile

        gain = min(1.0, self._format.most / self._peak) if self._peak else 1.0
        with new_file(self.path) as temporary:
            try:
                self._sound.seek(0)
                with soundfile.SoundFile(
                    temporary, "w", self._rate, 2, self._format.subtype, format=self._format.name
                ) as out:
                    while chunk := self._sound.read(_CHUNK * 8):
                        sound = np.frombuffer(chunk, np.float32).reshape(-1, 2)
                        out.write(sound if gain == 1.0 else sound * np.float32(gain))
                written = soundfile.info(temporary).frames
            except (soundfile.LibsndfileError, AssertionError) as error:
                raise self._incomplete(str(error)) from error
            if written < self._frames:
                raise self._incomplete("the disk may be full")
        return Written(self.path, self._frames, self._peak, abs(20 * log10(gain)))

    def _incomplete(self, reason: str) -> ProblemsError:
        what = f"the sound could not be written whole ({reason.rstrip('.')})"
        hint = "Make room on the disk, or choose another place"
        return ProblemsError([Problem(str(self.path), 0, 0, what, hint=hint)])

    def __enter__(self) -> "AudioFile":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._sound.close()


def audio_format(path: Path) -> _Format:
    """The format that a file's ending stands for. Raises ProblemsError for an unknown one."""
    found = FORMATS.get(path.suffix.casefold())
    if found is None:
        what = f'an audio file cannot end in "{path.suffix}"' if path.suffix else "the file's name has no ending"
        raise ProblemsError([Problem(str(path), 0, 0, what, ", ".join(FORMATS))])
    return found
