"""Noticing that a JACK server has died.

Its clients go on seeing the ports in shared memory that the server left behind, and RtMidi waits without end for a
process cycle that never comes (found by killing jackd). Only the shutdown callback tells, and RtMidi sets none.
"""

import ctypes
import itertools
import os
from typing import Any, Final

from trainer.playback import sound_log

_CALLBACK: Final = ctypes.CFUNCTYPE(None, ctypes.c_void_p, use_errno=True)
_NO_START_SERVER: Final = 1  # JackNoStartServer, jack/types.h
_numbers = itertools.count()


class JackWatch:
    """A client of the JACK server that only waits for its end; where there is none to watch, it sees no end."""

    def __init__(self) -> None:
        self.ended = False
        """Whether the server has died."""
        self._jack: Any = None
        self._client: int | None = None
        self._callback = _CALLBACK(self._note)
        for path in sound_log.loaded("libjack"):
            if self._watch(ctypes.CDLL(path)):
                return

    def _note(self, _data: object) -> None:
        self.ended = True

    def _watch(self, jack: Any) -> bool:
        """Open a client by one of the loaded JACK libraries."""
        jack.jack_client_open.restype = ctypes.c_void_p
        jack.jack_client_open.argtypes = (ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
        jack.jack_on_shutdown.argtypes = (ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p)
        jack.jack_client_close.argtypes = (ctypes.c_void_p,)
        status = ctypes.c_int()
        name = f"twinspur-watch-{os.getpid()}-{next(_numbers)}".encode()
        client = jack.jack_client_open(name, _NO_START_SERVER, ctypes.byref(status))
        if not client:
            return False
        jack.jack_on_shutdown(client, ctypes.cast(self._callback, ctypes.c_void_p), None)
        self._jack, self._client = jack, client
        return True

    def close(self) -> None:
        """Leave the server. After its death nothing is left to leave, and closing could hang."""
        client, self._client = self._client, None
        if client is not None and not self.ended:
            self._jack.jack_client_close(client)
