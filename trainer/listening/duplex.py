"""Playing and recording in one stream of the sound card, so that one clock counts both.

What sounds is made ahead by a thread of its own; the device's callback only copies, stamps and counts. A frame that
was played at position p comes back at position p plus the round trip, for as long as the stream is open: the marker's
delay stays the same to 0.01 ms there, while two openings of a sound server differ by 10 ms and more (measured,
PulseAudio). Most of that difference the device tells itself (`told_ms`); what it tells wrongly, calibration finds.
"""

import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from statistics import median
from typing import Any

import numpy as np

from trainer.listening.capture import close_stream
from trainer.listening.sound import Samples, Sound
from trainer.music.problem import Problem, ProblemsError

LATENCY_S, BLOCK = 0.1, 512
"""Measured on PulseAudio: with less, or with blocks as the server likes, the stream drops out or jumps as it opens."""
AHEAD_S = 2.0
"""How far what sounds is made ahead."""
SETTLE_S, TELL_S = 0.5, 3.0
"""The device's figures of its first half second are left out, and those of the next three taken: what it tells goes on
wandering by some ms, while the round trip stays."""
STANDSTILL_S = 2.0
"""Seconds without a block after which the device counts as gone."""
STARTING_S = 8.0
"""Seconds that the first block may take: an idle PulseAudio sink plays out two seconds of silence before it, and a busy
machine makes more of them (seen: 2.4)."""
LONGEST_S = 1_800.0
"""So much is kept; what is older goes."""
_PAUSE_S = 0.02
_FILL_S = 20.0


class Duplex:
    """A stream that plays and records from `begin` to `close`."""

    def __init__(
        self,
        sounds: Iterator[Samples],
        rate: int,
        *,
        output: str | None = None,
        source: str | None = None,
        channels: int = 1,
        ahead_s: float = AHEAD_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Prepare; `begin` opens the device.

        Args:
            sounds: what to play, piece by piece: float32 arrays of shape (frames, 2). Used in another thread.
            rate: frames a second.
            output: the output's name or a part of it; None for the system's default.
            source: the same of the input.
            channels: how many inputs to record, 0 to play only.
            ahead_s: how many seconds what sounds is made ahead.
            clock: seconds that never go back.
        """
        self.rate, self.channels, self._ahead = rate, channels, round(ahead_s * rate)
        self._sounds, self._output, self._source, self._clock = sounds, output, source, clock
        self._waiting: deque[tuple[int, Samples]] = deque()
        self._heard: deque[tuple[int, Samples]] = deque()
        self._played: deque[tuple[int, Samples]] = deque()
        self._told: list[float] = []
        self._frames = self._made = self._overruns = 0
        self._moved = clock()
        self._all_made = threading.Event()
        self._ready = threading.Event()
        self._closing = threading.Event()
        self._ended = False
        self._trouble: BaseException | None = None
        self._stream: Any = None
        self._maker = threading.Thread(target=self._make, name="sounds", daemon=True)

    def begin(self) -> None:
        """Open the device and begin to play.

        Raises:
            ProblemsError: when there is no such device or it cannot be opened.
        """
        import sounddevice

        self._maker.start()
        self._ready.wait(_FILL_S)
        self._raise_trouble()
        common: dict[str, Any] = {
            "samplerate": self.rate, "dtype": "float32", "latency": LATENCY_S, "blocksize": BLOCK,
            "finished_callback": self._finished,
        }  # fmt: skip
        try:
            if self.channels:
                self._stream = sounddevice.Stream(
                    device=(self._source, self._output), channels=(self.channels, 2), callback=self._both, **common
                )
            else:
                self._stream = sounddevice.OutputStream(
                    device=self._output, channels=2, callback=self._out_only, **common
                )
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            self._closing.set()
            raise _unopened(self._output, self._source if self.channels else "", error) from error
        self._moved = self._clock()

    def close(self) -> None:
        """End playing and recording. May be called twice. It may wait for ever for a sound server that died."""
        self._closing.set()
        stream, self._stream = self._stream, None
        if stream is not None:
            close_stream(stream)
        if self._maker.is_alive():
            self._maker.join()

    @property
    def frames(self) -> int:
        """Frames played and recorded so far."""
        return self._frames

    @property
    def all_played(self) -> bool:
        """Whether everything that there was to play has been handed to the device."""
        self._raise_trouble()
        return self._all_made.is_set() and self._frames >= self._made

    @property
    def overruns(self) -> int:
        """Times at which frames were dropped on the way in, or were missing on the way out."""
        return self._overruns

    @property
    def vanished(self) -> bool:
        """Whether the device stopped by itself, or stands still."""
        patience = STANDSTILL_S if self._frames else STARTING_S
        return not self._closing.is_set() and (self._ended or self._clock() - self._moved > patience)

    @property
    def told_ms(self) -> float:
        """What the device itself tells of its round trip in this opening, in milliseconds; 0 where it tells nothing."""
        return round(median(self._told) * 1000, 3) if self._told else 0.0

    def heard(self, first: int, last: int) -> tuple[Sound, ...]:
        """What was recorded from one frame to another, a sound for each input; what is not there is left out."""
        samples = _cut(self._heard, max(0, first), last, self.channels)
        return tuple(Sound(np.ascontiguousarray(samples[:, side]), self.rate) for side in range(self.channels))

    def played(self, first: int, last: int) -> Sound:
        """What was played from one frame to another, both sides mixed."""
        return Sound(np.ascontiguousarray(_cut(self._played, max(0, first), last, 1)[:, 0]), self.rate)

    def forget(self, frame: int) -> None:
        """Let go of everything before a frame."""
        for kept in (self._heard, self._played):
            while kept and kept[0][0] + len(kept[0][1]) <= frame:
                kept.popleft()

    def _both(self, heard: Samples, out: Samples, frames: int, times: Any, status: Any) -> None:
        """Called by the device: copy, stamp, count."""
        settled = self._frames > SETTLE_S * self.rate
        if settled:
            if self._frames < (SETTLE_S + TELL_S) * self.rate:
                self._told.append(times.outputBufferDacTime - times.inputBufferAdcTime)
            self._overruns += bool(status.input_overflow) + bool(status.output_underflow)
        self._heard.append((self._frames, heard.copy()))
        self._fill(out, frames)
        self.forget(self._frames - int(LONGEST_S * self.rate))

    def _out_only(self, out: Samples, frames: int, _times: Any, status: Any) -> None:
        """The same without an input."""
        self._overruns += bool(status.output_underflow) and self._frames > SETTLE_S * self.rate
        self._fill(out, frames)

    def _fill(self, out: Samples, frames: int) -> None:
        """Copy what is due; what comes too late is silence, so that no later frame moves."""
        out.fill(0.0)
        if self._closing.is_set():
            import sounddevice

            raise sounddevice.CallbackAbort
        begin, end = self._frames, self._frames + frames
        while self._waiting:
            at, sound = self._waiting[0]
            first, last = max(at, begin), min(at + len(sound), end)
            if last > first:
                out[first - begin : last - begin] = sound[first - at : last - at]
            if at + len(sound) > end:
                break
            self._waiting.popleft()
        self._frames = end
        self._moved = self._clock()

    def _finished(self) -> None:
        self._ended = True

    def _make(self) -> None:
        """In a thread: make what sounds, so far ahead that nothing is late."""
        try:
            for sound in self._sounds:
                if self._made < self._frames:
                    self._overruns += 1
                self._waiting.append((self._made, sound))
                if self.channels:
                    self._played.append((self._made, sound.mean(axis=1, keepdims=True, dtype=np.float32)))
                self._made += len(sound)
                while self._made - self._frames > self._ahead:
                    self._ready.set()
                    if self._closing.wait(_PAUSE_S):
                        return
        except BaseException as trouble:  # it is raised again where somebody looks
            self._trouble = trouble
        finally:
            close = getattr(self._sounds, "close", None)
            if close is not None:
                close()
            self._all_made.set()
            self._ready.set()

    def _raise_trouble(self) -> None:
        if self._trouble is not None:
            raise self._trouble


def _cut(kept: deque[tuple[int, Samples]], first: int, last: int, channels: int) -> Samples:
    """The samples between two frames."""
    pieces = []
    for at, sound in list(kept):
        begin, end = max(first, at), min(last, at + len(sound))
        if end > begin:
            pieces.append(sound[begin - at : end - at])
    return np.concatenate(pieces) if pieces else np.zeros((0, channels), np.float32)


def _unopened(output: str | None, source: str | None, error: Exception) -> ProblemsError:
    names = [f"“{name}”" if name else "the default one" for name in (source, output) if name != ""]
    way = ("input", "output")[-len(names) :]
    told = " and ".join(f"{word} ({name})" for word, name in zip(way, names, strict=True))
    what = f"The sound card's {told} cannot be opened: {str(error).splitlines()[0].rstrip('.')}"
    hint = "Choose other devices, close the program that holds them, or start the sound server"
    return ProblemsError([Problem("", 0, 0, what, hint=hint)])
