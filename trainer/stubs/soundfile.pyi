"""soundfile as far as Twinspur uses it (https://python-soundfile.readthedocs.io)."""

from os import PathLike
from types import TracebackType
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

__libsndfile_version__: str

class SoundFileError(Exception): ...
class SoundFileRuntimeError(SoundFileError, RuntimeError): ...
class LibsndfileError(SoundFileRuntimeError): ...

class _Info:
    frames: int
    samplerate: int
    channels: int
    format: str
    subtype: str

class SoundFile:
    samplerate: int
    channels: int
    frames: int
    def __init__(
        self,
        file: bytes | str | PathLike[str],
        mode: str = ...,
        samplerate: int | None = ...,
        channels: int | None = ...,
        subtype: str | None = ...,
        endian: str | None = ...,
        format: str | None = ...,
    ) -> None: ...
    def write(self, data: NDArray[Any]) -> None: ...
    def read(self, frames: int = ..., dtype: str = ..., always_2d: bool = ...) -> NDArray[np.float32]: ...
    def seek(self, frames: int) -> int: ...
    def close(self) -> None: ...
    def __len__(self) -> int: ...
    def __enter__(self) -> SoundFile: ...
    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...

def info(file: bytes | str | PathLike[str]) -> _Info: ...
def read(
    file: bytes | str | PathLike[str], dtype: Literal["float32"] = ..., always_2d: bool = ...
) -> tuple[NDArray[np.float32], int]: ...
def write(
    file: bytes | str | PathLike[str],
    data: NDArray[Any],
    samplerate: int,
    subtype: str | None = ...,
    format: str | None = ...,
) -> None: ...
def available_formats() -> dict[str, str]: ...
