"""Asking the system, and Python, for everything that makes a process punctual; what is refused is done without.

The order of what helps was measured with `tests/benchmarks/port_jitter.py`: a process of its own without the cyclic
collector, then a real-time schedule, then, where there is none, a short slice.
"""

import contextlib
import ctypes
import gc
import os
import platform
import struct
import sys
from typing import Final

_PRIORITY: Final = 20
"""Under SCHED_FIFO: below what JACK and PipeWire use for themselves, above everything ordinary."""

_NICE: Final = -11
"""Where there is no real-time schedule: what PipeWire and PulseAudio take for themselves."""

_SLICE_NS: Final = 100_000
"""The shortest slice of time that Linux grants (from 6.12): who asks for little is let in earlier."""

_TIMERSLACK: Final = 29
"""PR_SET_TIMERSLACK, linux/prctl.h: otherwise sleeps end up to 50 µs late."""

_SCHED_SETATTR: Final = {"x86_64": 314, "aarch64": 274, "riscv64": 274}
"""The number of the system call sched_setattr, which the C library does not wrap."""

_ATTRIBUTES: Final = struct.Struct("<IIQiIQQQ")
"""struct sched_attr: size, policy, flags, nice, priority, runtime, deadline, period (sched_setattr(2))."""


def run_punctually(real_time: bool = True) -> None:
    """Make this process as punctual as it can be; `real_time` asks for SCHED_FIFO too."""
    gc.collect()
    gc.freeze()
    gc.disable()
    sys.setswitchinterval(0.0005)
    if not sys.platform.startswith("linux"):
        return
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(_TIMERSLACK, 1, 0, 0, 0)
    if real_time:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_PRIORITY))
            return
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, _NICE)
    _ask_for_a_short_slice()


def _ask_for_a_short_slice() -> None:
    call = _SCHED_SETATTR.get(platform.machine())
    if call is not None:
        ordinary, flags, nice, priority = 0, 0, 0, 0
        wanted = _ATTRIBUTES.pack(_ATTRIBUTES.size, ordinary, flags, nice, priority, _SLICE_NS, 0, 0)
        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).syscall(call, 0, wanted, 0)
