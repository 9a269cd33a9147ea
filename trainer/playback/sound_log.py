"""What the sound libraries have to say goes to a log file, never to the terminal.

FluidSynth, ALSA, JACK and GLib print from C on file descriptor 2, where the screen is painted. (GLib is behind
FluidSynth's reader of DLS files, which tries a damaged SoundFont too.) Each has a handler of its own for that;
redirecting the descriptor would blank the screen instead (measured with Textual, which paints on it too).

JACK's words are dropped: it would call a handler from threads that it cancels when a client is closed, and a thread
that is cancelled while it waits for Python's lock takes the program down. In the processes that serve MIDI ports, whose
descriptor 2 is the log, JACK prints there by itself.
"""

import atexit
import ctypes
import os
import re
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any, BinaryIO, Final

from trainer.places import state_folder
from trainer.playback import fluid

_LARGEST_LOG: Final = 1_000_000  # bytes; one older file is kept

_FLUID_LEVELS: Final = {0: "panic", 1: "error", 2: "warning"}  # and 3 information, 4 debugging: dropped
# With `use_errno` a callback leaves C's errno as it found it: libasound returns -errno after it has logged, and crashes
# when the handler's own I/O has set that to 0 (found with libasound 1.2.8).
_FLUID_CALLBACK: Final = ctypes.CFUNCTYPE(None, ctypes.c_int, ctypes.c_char_p, ctypes.c_void_p, use_errno=True)
# ALSA's handler is variadic; what follows the format cannot be read here, so the format itself is logged.
_ALSA_CALLBACK: Final = ctypes.CFUNCTYPE(
    None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, use_errno=True
)
_GLIB_CALLBACK: Final = ctypes.CFUNCTYPE(
    None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_void_p, use_errno=True
)

_kept: list[Any] = []  # callbacks that C code may still call must outlive it
_hushed: set[str] = set()
_NUMBER: Final = re.compile(r"\b(0x[0-9a-f]+|[0-9]+)\b", re.ASCII)
_KINDS: Final = 500  # more than so many different lines are no kinds but noise: they are counted as one
_said: Counter[str] = Counter()
_first: dict[str, str] = {}


def log_file() -> Path:
    """Where the messages of the sound libraries are."""
    return state_folder() / "sound.log"


def write_log(source: str, message: str) -> None:
    """Append one line to the log, and only count those that say the same but for its numbers.

    How often each was repeated is written when the program ends. What cannot be written is dropped, because nothing may
    disturb the playing.
    """
    line = " ".join(message.split())
    plain = "".join(character if character.isprintable() else "?" for character in line)
    kind = f"{source}: {_NUMBER.sub('0', plain)}"
    if kind not in _first and len(_first) >= _KINDS:
        kind = "more kinds of messages"
    _said[kind] += 1
    if _said[kind] == 1:
        _first[kind] = plain
        _append(source, plain)


def write_counts() -> None:
    """Append how often each line of this run was repeated, and forget it."""
    for kind, times in list(_said.items()):
        if times > 1:
            _append(kind.partition(":")[0], f"{times - 1} more like this: {_first[kind]}")
    _said.clear()
    _first.clear()


def _append(source: str, plain: str) -> None:
    stamp = time.strftime("%Y-%m-%d %H:%M:%S")
    try:
        with log_file().open("ab", buffering=0) as log:
            log.write(f"{stamp} {source}: {plain}\n".encode())
    except OSError:
        return


atexit.register(write_counts)


def open_log() -> BinaryIO:
    """The log, open for appending, for a process of ours to print on; where it cannot be written, nowhere."""
    _make_room()
    try:
        return log_file().open("ab", buffering=0)
    except OSError:
        return Path(os.devnull).open("ab", buffering=0)


def _make_room() -> None:
    path = log_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and path.stat().st_size > _LARGEST_LOG:
            path.replace(path.with_suffix(".log.1"))
    except OSError:
        return


def _from_fluid(level: int, message: bytes | None, _data: object) -> None:
    write_log(f"FluidSynth {_FLUID_LEVELS.get(level, level)}", (message or b"").decode(errors="replace"))


def _from_alsa(file: bytes | None, line: int, function: bytes | None, error: int, text: bytes | None) -> None:
    name = (function or file or b"?").decode(errors="replace")
    reason = f" ({os.strerror(abs(error))})" if error else ""
    write_log("ALSA", f"{name}:{line}: {(text or b'').decode(errors='replace')}{reason}")


def _from_glib(domain: bytes | None, _level: int, message: bytes | None, _data: object) -> None:
    write_log((domain or b"GLib").decode(errors="replace"), (message or b"").decode(errors="replace"))


def loaded(name: str) -> set[str]:
    """The paths of the loaded shared libraries whose file name begins with `name`, as Linux tells them."""
    try:
        lines = Path("/proc/self/maps").read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return set()
    paths = (line.split(maxsplit=5)[5] for line in lines if line.count(" ") >= 5 and "/" in line)
    return {path for path in paths if Path(path).name.startswith(name)}


def hush_fluidsynth() -> None:
    """Send FluidSynth's messages to the log. Raises LibraryMissingError."""
    if "fluidsynth" in _hushed:
        return
    _make_room()
    functions = fluid.library()
    functions.fluid_set_log_function.restype = ctypes.c_void_p
    functions.fluid_set_log_function.argtypes = (ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)
    callback = _FLUID_CALLBACK(_from_fluid)
    _kept.append(callback)
    for level in range(5):
        taken = ctypes.cast(callback, ctypes.c_void_p) if level in _FLUID_LEVELS else None
        functions.fluid_set_log_function(level, taken, None)

    def stop() -> None:
        for level in range(5):
            functions.fluid_set_log_function(level, None, None)

    atexit.register(stop)
    _hushed.add("fluidsynth")


def hush_system() -> None:
    """Send the messages of every ALSA, JACK and GLib library that is loaded by now to the log.

    python-rtmidi's wheel brings a JACK library of its own, so there may be two: call this after the import of what
    brings one. Nor may JACK start a server by itself, whose messages would come from another process.
    """
    os.environ.setdefault("JACK_NO_START_SERVER", "1")
    if not sys.platform.startswith("linux"):
        return
    _make_room()
    for path in loaded("libasound.so") - _hushed:
        _hushed.add(path)
        callback = _ALSA_CALLBACK(_from_alsa)
        _kept.append(callback)
        alsa = ctypes.CDLL(path)
        alsa.snd_lib_error_set_handler(callback)
        atexit.register(alsa.snd_lib_error_set_handler, None)
    for path in loaded("libglib-2.0.so") - _hushed:
        _hushed.add(path)
        told = _GLIB_CALLBACK(_from_glib)
        _kept.append(told)
        glib = ctypes.CDLL(path)
        glib.g_log_set_default_handler(told, None)
        usual = ctypes.cast(glib.g_log_default_handler, ctypes.c_void_p)
        atexit.register(glib.g_log_set_default_handler, usual, None)
    for path in loaded("libjack") - _hushed:
        _hushed.add(path)
        if not _stderr_is_the_log():
            jack = ctypes.CDLL(path)
            # Any C function that takes a text and leaves it alone will do.
            nothing = ctypes.cast(ctypes.CDLL(None).strlen, ctypes.c_void_p)
            jack.jack_set_error_function(nothing)
            jack.jack_set_info_function(nothing)


def _stderr_is_the_log() -> bool:
    try:
        return os.path.samestat(os.fstat(2), log_file().stat())
    except OSError:
        return False


def hush() -> None:
    """Send what FluidSynth and the libraries behind it say to the log. Raises LibraryMissingError."""
    hush_fluidsynth()
    hush_system()
