"""sounddevice as far as Twinspur uses it (https://python-sounddevice.readthedocs.io)."""

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

class PortAudioError(Exception): ...
class CallbackAbort(Exception): ...  # noqa: N818  # the library's own name for it

class InputStream:
    device: int
    time: float
    active: bool
    def __init__(
        self,
        samplerate: float | None = ...,
        blocksize: int | None = ...,
        device: int | str | None = ...,
        channels: int | None = ...,
        dtype: str | None = ...,
        latency: float | str | None = ...,
        callback: Callable[[Any, int, Any, Any], None] | None = ...,
        finished_callback: Callable[[], None] | None = ...,
    ) -> None: ...
    def start(self) -> None: ...
    def stop(self) -> None: ...
    def close(self) -> None: ...

class Stream:
    active: bool
    def __init__(self, **options: Any) -> None: ...
    def start(self) -> None: ...
    def close(self) -> None: ...

class OutputStream(Stream): ...

def _exit_handler() -> None: ...
def query_devices(device: int | str | None = ..., kind: str | None = ...) -> Any: ...
def playrec(
    data: npt.NDArray[np.float32],
    samplerate: float | None = ...,
    channels: int | None = ...,
    dtype: str | None = ...,
    device: Any = ...,
    blocking: bool = ...,
) -> npt.NDArray[np.float32]: ...
