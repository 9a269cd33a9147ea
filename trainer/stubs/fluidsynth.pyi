"""pyfluidsynth as far as Twinspur uses it; its C prototypes are made at run time."""

from ctypes import CDLL
from typing import Any

_fl: CDLL

def __getattr__(name: str) -> Any: ...
