"""Recording from the sound card while the tool plays.

The device's callback only stamps and enqueues; everything else happens when the take is fetched. Overruns are
counted, the level is metered, and a device that vanishes leaves what was recorded so far.
"""

from collections import deque
from dataclasses import dataclass
from math import log10
from typing import Any

import numpy as np

from trainer.listening.sound import Samples, Sound
from trainer.music.problem import Problem, ProblemsError

NOTHING_DB = -60.0
"""Peaks below this for two seconds mean that nothing is connected."""
NOTHING_S = 2.0
FULL = 0.985
LONGEST_S = 1_800.0


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
            return "I hear nothing: check the cable, the input and its level."
        return "The input clips: turn it down." if self.clipped else ""


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was captured."""

    channels: tuple[Sound, ...]
    began_s: float
    """The first frame's time on the device's clock (`stream.time`)."""
    overruns: int
    """Times at which the system dropped frames before they reached us."""
    vanished: bool
    """Whether the device went away while recording."""


class Capture:
    """An open input. Use as a context manager; `fetch` gives what was recorded so far."""

    def __init__(self, device: str | None = None, rate: int = 48_000, channels: int = 1, blocksize: int = 0) -> None:
        """Prepare to record; the device opens on entering.

        Args:
            device: its name or a part of it; None for the system's default.
            rate: frames a second.
            channels: 1, or 2 for a guitarist on each side.
            blocksize: frames a callback; 0 leaves it to the system.
        """
        self.rate, self.channels = rate, channels
        self._device, self._blocksize = device, blocksize
        self._blocks: deque[tuple[float, Samples]] = deque()
        self._frames = self._forgotten = 0
        self._overruns = 0
        self._peak, self._clipped = 0.0, False
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
            self._stream.close()

    @property
    def name(self) -> str:
        """The opened device's name."""
        import sounddevice

        return str(sounddevice.query_devices(self._stream.device, "input")["name"])

    @property
    def vanished(self) -> bool:
        """Whether the device stopped by itself."""
        return self._ended and not self._closing

    def _take_block(self, block: Samples, frames: int, times: Any, status: Any) -> None:
        """Called by the device: stamp, enqueue, count."""
        if status.input_overflow:
            self._overruns += 1
        if self._frames - self._forgotten < LONGEST_S * self.rate:
            self._blocks.append((times.inputBufferAdcTime, block.copy()))
        self._frames += frames
        peak = float(max(block.max(), -block.min()))
        self._peak = max(self._peak, peak)
        if peak >= FULL:
            self._clipped = True
        if peak > 10 ** (NOTHING_DB / 20):
            self._last_loud = self._frames

    def _finished(self) -> None:
        self._ended = True

    def level(self) -> Level:
        """The level since the last reading."""
        peak, clipped = self._peak, self._clipped
        self._peak, self._clipped = 0.0, False
        quiet = self._frames - self._last_loud > NOTHING_S * self.rate
        return Level(20 * log10(max(peak, 1e-6)), clipped, quiet)

    @property
    def overruns(self) -> int:
        """Times at which the system dropped frames so far."""
        return self._overruns

    @property
    def frames(self) -> int:
        """Frames that came in so far."""
        return self._frames

    def between(self, first: int, last: int) -> Sound:
        """The first channel from one frame to another, counted from the opening; shorter where it was not kept."""
        at, pieces = self._forgotten, []
        for _, block in list(self._blocks):
            begin, end = max(first - at, 0), min(last - at, len(block))
            if begin < end:
                pieces.append(block[begin:end, 0])
            at += len(block)
        samples = np.concatenate(pieces) if pieces else np.zeros(0, np.float32)
        return Sound(np.ascontiguousarray(samples), self.rate)

    def forget(self, before: int) -> None:
        """Let go of what came in before a frame, so that it can go on for hours; `fetch` then begins later."""
        while self._blocks and self._forgotten + len(self._blocks[0][1]) <= before:
            self._forgotten += len(self._blocks.popleft()[1])

    def fetch(self) -> Recorded:
        """Everything recorded so far."""
        blocks = list(self._blocks)
        samples = np.concatenate([block for _, block in blocks]) if blocks else np.zeros((0, self.channels), np.float32)
        sounds = tuple(Sound(np.ascontiguousarray(samples[:, side]), self.rate) for side in range(self.channels))
        return Recorded(sounds, blocks[0][0] if blocks else 0.0, self._overruns, self.vanished)


def play_and_record(samples: Samples, rate: int, output: str | None = None, source: str | None = None) -> Samples:
    """Play mono samples on one device while recording another, from the same moment on; what `calibration` needs.

    Raises:
        ProblemsError: when a device cannot be opened.
    """
    import sounddevice

    try:
        recorded = sounddevice.playrec(
            samples[:, None], rate, channels=1, dtype="float32", device=(source, output), blocking=True
        )
    except (sounddevice.PortAudioError, ValueError) as error:
        what = f"The sound card cannot play and record at once: {str(error).splitlines()[0]}"
        raise ProblemsError(
            [Problem("", 0, 0, what, hint="Choose other devices, or start the sound server")]
        ) from error
    return np.asarray(recorded[:, 0], dtype=np.float32)
