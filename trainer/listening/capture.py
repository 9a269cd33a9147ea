"""Recording from the sound card while the tool plays.

The device's callback only stamps and enqueues; everything else happens when somebody looks. What the system says it
dropped is counted, and so are gaps in the frames that nobody tells of; the level of every input is metered, and a
device that vanishes leaves what was recorded so far.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from math import log10
from typing import Any

import numpy as np

from trainer.frame_clock import FrameClock
from trainer.listening.sound import Samples, Sound
from trainer.listening.soundness import NOTHING
from trainer.music.problem import Problem, ProblemsError

NOTHING_DB = -60.0
"""Peaks below this for two seconds mean that nothing is connected."""
NOTHING_S = 2.0
FULL = 0.985
LONGEST_S = 1_800.0
ENDING_S = 0.5
"""Seconds in which a stream's callback must have come once more."""
LOUDER = 2.0
"""So many times as loud another input must be before it is taken for the guitar's."""


def close_stream(stream: Any) -> None:
    """Close a stream of sounddevice whose callback raises CallbackAbort from now on.

    PortAudio cancels the thread of a stream that still runs, and a thread that is cancelled while it waits for Python's
    lock takes the program down. So it ends by itself first; one that calls no more, because its device or server has
    died, waits for no lock.
    """
    end = time.monotonic() + ENDING_S
    while stream.active and time.monotonic() < end:
        time.sleep(0.005)
    stream.close()


@dataclass(frozen=True, slots=True)
class Level:
    """What the meter shows."""

    peak_db: float
    """Since the meter was last read; -120 for silence."""
    clipped: bool
    """Whether a sample stood at full scale since the last reading."""
    nothing: bool
    """Whether nothing was heard for two seconds."""

    @property
    def sentence(self) -> str:
        """What to tell the player before starting; empty when all is well."""
        if self.nothing:
            return NOTHING
        return "The input clips: turn it down." if self.clipped else ""


class Capture:
    """An open input. Use as a context manager; `between` gives what was recorded. For any thread."""

    def __init__(
        self,
        device: str | None = None,
        rate: int = 48_000,
        channels: int = 1,
        blocksize: int = 0,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Prepare to record; the device opens on entering.

        Args:
            device: its name or a part of it; None for the system's default.
            rate: frames a second.
            channels: how many of its inputs to record at most; it may have fewer.
            blocksize: frames a callback; 0 leaves it to the system.
            clock: seconds that never go back; what is asked for by moments is on it.
        """
        self.rate, self.channels = rate, channels
        self._device, self._blocksize, self._clock = device, blocksize, clock
        self._came: deque[tuple[float, bool, Samples]] = deque()
        self._lock = threading.RLock()
        self._kept: deque[Samples] = deque()
        self._frames = self._forgotten = self._flagged = 0
        self._tied = FrameClock(rate)
        self._peaks = self._loudest = np.zeros(channels)
        self._side = 0
        self._chosen: int | None = None
        self._last_loud = 0
        self._stream: Any = None
        self._closing = False
        self._ended = False

    def __enter__(self) -> "Capture":
        """Open the device and begin.

        Raises:
            ProblemsError: when there is no such device or it cannot be opened.
        """
        import sounddevice

        try:
            has = int(sounddevice.query_devices(self._device, "input")["max_input_channels"])
            self.channels = max(1, min(self.channels, has))
            self._peaks = self._loudest = np.zeros(self.channels)
            self._stream = sounddevice.InputStream(
                samplerate=self.rate, channels=self.channels, device=self._device, blocksize=self._blocksize,
                dtype="float32", callback=self._take_block, finished_callback=self._finished,
            )  # fmt: skip
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            named = f"“{self._device}”" if self._device else "the default input"
            what = f"The sound card's input ({named}) cannot be opened: {str(error).splitlines()[0]}"
            hint = "Choose another input, close the program that holds it, or start the sound server"
            raise ProblemsError([Problem("", 0, 0, what, hint=hint)]) from error
        return self

    def __exit__(self, *_: object) -> None:
        """Close the device; what was recorded stays."""
        self._closing = True
        if self._stream is not None:
            close_stream(self._stream)

    @property
    def name(self) -> str:
        """The opened device's name."""
        import sounddevice

        return str(sounddevice.query_devices(self._stream.device, "input")["name"])

    @property
    def vanished(self) -> bool:
        """Whether the device stopped by itself."""
        return self._ended and not self._closing

    def _take_block(self, block: Samples, _frames: int, _times: Any, status: Any) -> None:
        """Called by the device: stamp and enqueue."""
        if self._closing:
            import sounddevice

            raise sounddevice.CallbackAbort
        self._came.append((self._clock(), bool(status.input_overflow), block.copy()))

    def _finished(self) -> None:
        self._ended = True

    def _look(self) -> None:
        """Take in what came: count it, tie it to the clock, meter it. Under the lock."""
        came = self._came
        while came:
            moment, flagged, block = came.popleft()
            self._flagged += flagged
            if self._frames - self._forgotten < LONGEST_S * self.rate:
                self._kept.append(block)
            self._frames += len(block)
            self._tied.look(moment, self._frames)
            peaks = np.abs(block).max(axis=0)
            self._peaks = np.maximum(self._peaks, peaks)
            self._loudest = np.maximum(self._loudest, peaks)
            if self._chosen is None:
                best = int(np.argmax(self._loudest))
                if self._loudest[best] > LOUDER * self._loudest[self._side]:
                    self._side = best
            if peaks[self._side] > 10 ** (NOTHING_DB / 20):
                self._last_loud = self._frames

    def level(self) -> Level:
        """The level since the last reading, of the input that is listened to."""
        with self._lock:
            self._look()
            peak, self._peaks = float(self._peaks[self._side]), np.zeros(self.channels)
            quiet = self._frames - self._last_loud > NOTHING_S * self.rate
        return Level(20 * log10(max(peak, 1e-6)), peak >= FULL, quiet)

    @property
    def side(self) -> int:
        """The input that is listened to, from 0: the chosen one, or the loudest so far."""
        with self._lock:
            self._look()
            return self._side

    def choose(self, side: int | None) -> None:
        """Listen to one of the inputs, from 0; None takes the loudest from now on."""
        with self._lock:
            self._look()
            self._chosen = side
            self._loudest = np.zeros(self.channels)
            if side is not None:
                self._side = side

    @property
    def chosen(self) -> int | None:
        """The input that was chosen; None where the loudest is taken."""
        return self._chosen

    @property
    def heard(self) -> bool:
        """Whether anything was heard on any input since it was opened, or an input was chosen."""
        with self._lock:
            self._look()
            return bool(self._loudest.max() > 10 ** (NOTHING_DB / 20))

    @property
    def overruns(self) -> int:
        """Times at which frames were dropped so far: told by the system, or seen as a gap in its frames."""
        with self._lock:
            self._look()
            return max(self._flagged, self._tied.gaps)

    @property
    def frames(self) -> int:
        """Frames that came in so far."""
        with self._lock:
            self._look()
            return self._frames

    def moment(self, frame: float) -> float:
        """When a frame came in, on the clock; now where nothing has come yet."""
        with self._lock:
            self._look()
            tied = self._tied.moment(frame)
            return self._clock() if tied is None else tied

    def frame(self, moment: float) -> int:
        """The frame that came in at a moment; 0 where nothing has come yet."""
        with self._lock:
            self._look()
            return round(self._tied.frame(moment) or 0)

    def between(self, first: int, last: int, side: int | None = None) -> Sound:
        """One input from one frame to another, counted from the opening; shorter where it was not kept.

        Args:
            first: the first frame.
            last: the frame after the last one.
            side: which input, from 0; None for the one that is listened to.
        """
        with self._lock:
            self._look()
            at, pieces, side = self._forgotten, [], self._side if side is None else side
            for block in self._kept:
                begin, end = max(first - at, 0), min(last - at, len(block))
                if begin < end:
                    pieces.append(block[begin:end, side])
                at += len(block)
        samples = np.concatenate(pieces) if pieces else np.zeros(0, np.float32)
        return Sound(np.ascontiguousarray(samples), self.rate)

    def forget(self, before: int) -> None:
        """Let go of what came in before a frame, so that it can go on for hours."""
        with self._lock:
            self._look()
            while self._kept and self._forgotten + len(self._kept[0]) <= before:
                self._forgotten += len(self._kept.popleft())
