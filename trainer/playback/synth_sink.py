"""The live sink: FluidSynth on an audio device, whose frames are the clock."""

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from trainer.frame_clock import FrameClock
from trainer.playback import fluid
from trainer.playback.audio_out import AudioOut, Device, open_audio
from trainer.playback.block_clock import LONGEST, BlockClock
from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.sink import SinkGoneError
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_queue import SynthQueue

STANDSTILL: Final = 2.0
"""Seconds without a frame after which the device counts as gone; the longest dropout measured was 0.24 s."""

_CHANCE: Final = 0.0005  # seconds by which looks at a clock differ by chance
_CLICK_LENGTH: Final = 0.1  # seconds until a click's key is released


@dataclass(frozen=True, slots=True)
class ClickKeys:
    """The keys of the click's preset that sound for a CLICK; by default General MIDI's metronome in a drum kit."""

    plain: int = 33
    accented: int = 34


class SynthSink:
    """Plays events on FluidSynth, each at the block of 64 frames that begins nearest to its frame.

    The device renders a period at a time, so `now` moves in steps of a period; hearing is `latency` frames behind.
    """

    def __init__(
        self,
        bank: Path,
        device: Device | None = None,
        options: SynthOptions | None = None,
        click: ClickKeys | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Open the device.

        Args:
            bank: the SoundFont to play.
            device: which device; the first that works by default.
            options: how the synth sounds; its rate gives way to a JACK server's.
            click: the keys of the click.
            clock: seconds that never go back, for noticing that the device stands still.

        Raises:
            NoSoundError: no device works.
            SynthError: the bank cannot be read.
            LibraryMissingError: libfluidsynth is not installed.
        """
        self._out: AudioOut | None = open_audio(bank, options or SynthOptions(), device or Device())
        self._lock = threading.RLock()
        self._driver = self._out.driver
        self._rate = self._out.rate
        self._buffering = self._out.buffering
        self._blocks = BlockClock(self._rate)
        self._queue = SynthQueue(self._out.sequencer, self._blocks)
        self._click = click or ClickKeys()
        self._clicks: dict[tuple[int, int], list[int]] = {}  # channel and key: frames of starts not ended yet
        self._clock = clock
        self._tick = 0
        self._moved = clock()
        self._frames = FrameClock(self._rate)
        self._late = 0

    @property
    def rate(self) -> int:
        """Frames a second."""
        return self._rate

    @property
    def min_ahead(self) -> int:
        """One period, which may be rendered at any moment, and one block for rounding."""
        return self._buffering.period + fluid.BLOCK

    @property
    def latency(self) -> int:
        """Frames between being carried out and being heard, as far as the driver tells."""
        return self._buffering.frames

    @property
    def driver(self) -> str:
        """The name of the driver that was opened."""
        return self._driver

    @property
    def period(self) -> int:
        """Frames that the driver renders at once."""
        return self._buffering.period

    @property
    def dropouts(self) -> int:
        """How often the device stood still for a moment, as seen by those who ask for `now` several times a period."""
        with self._lock:
            return self._frames.gaps

    def moment(self, frame: float) -> float | None:
        """When a frame was or will be rendered, on the clock given; None before anybody asked for `now`.

        Single readings of `now` are up to a period late; this is the earliest of many. It is heard some time later,
        which is the same in every opening of the device to half a millisecond (measured, PulseAudio).
        """
        with self._lock:
            return self._frames.moment(frame)

    def stood_still(self, first: float, last: float) -> float:
        """For how many seconds the device stood still between two frames; 0 for less than half a millisecond."""
        with self._lock:
            begin, end = self._frames.moment(first), self._frames.moment(last)
            wandered = 0.0 if begin is None or end is None else self._frames.wandered(begin, end)
        return wandered if wandered > _CHANCE else 0.0

    @property
    def late(self) -> int:
        """How many events came after their time and were carried out at once."""
        return self._late

    def now(self) -> int:
        """The frame where the block began that was rendered last. Raises SinkGoneError."""
        with self._lock:
            return self._read_clock(self._opened())

    def _opened(self) -> AudioOut:
        if self._out is None:
            raise SinkGoneError("The sound was closed.")
        return self._out

    def _read_clock(self, out: AudioOut) -> int:
        seconds = self._clock()
        tick = max(self._tick, out.sequencer.now())
        if tick != self._tick:
            self._tick, self._moved = tick, seconds
        elif seconds - self._moved > STANDSTILL:
            raise SinkGoneError(
                f"The sound device no longer takes any sound (driver {self._driver}). "
                "Connect it again, or choose another driver, and start again."
            )
        frame = self._blocks.frame(tick)
        if frame > LONGEST * self._rate:
            raise SinkGoneError("The sound has been open for 18 hours, as long as its clock goes. Start again.")
        self._frames.look(self._clock(), frame)  # read after the frame: late, but never early
        return frame

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        """Reset every channel and carry out `events` at once. Raises SinkGoneError."""
        with self._lock:
            out = self._opened()
            self._queue.withdraw()
            self._clicks.clear()
            out.synth.reset()
            for event in events:
                out.synth.do(event)

    def send(self, events: Sequence[Event]) -> None:
        """Queue events. Raises SinkGoneError."""
        with self._lock:
            out = self._opened()
            now = self._read_clock(out)
            self._end_clicks(out, now)
            for event in events:
                if event.frame <= now:
                    self._late += 1
                self._queue.send(self._started_click(event) if event.kind is Kind.CLICK else event, now)

    def _started_click(self, event: Event) -> Event:
        """The start of a click's key."""
        key = self._click.accented if event.one else self._click.plain
        self._clicks.setdefault((event.channel, key), []).append(event.frame)
        return Event(event.frame, Kind.NOTE_ON, event.channel, key, event.two)

    def _end_clicks(self, out: AudioOut, now: int) -> None:
        """Release the clicks that have sounded for long enough, at once: an end in the queue could cut off the next."""
        for (channel, key), starts in self._clicks.items():
            begun = [frame for frame in starts if frame <= now]
            if begun and now - begun[-1] >= _CLICK_LENGTH * self._rate:
                out.synth.note_off(channel, key)
                begun.clear()
            starts[:] = begun[-1:] + [frame for frame in starts if frame > now]

    def withdraw(self) -> None:
        """Drop what is queued. Raises SinkGoneError."""
        with self._lock:
            out = self._opened()
            now = self._read_clock(out)
            self._queue.withdraw()
            for starts in self._clicks.values():
                starts[:] = [frame for frame in starts if frame <= now]

    def withdraw_from(self, frame: int) -> None:
        """Drop what is queued for a frame or later, and touch nothing that is due before. Raises SinkGoneError."""
        with self._lock:
            out = self._opened()
            now = self._read_clock(out)
            self._queue.withdraw_from(frame, now)
            for starts in self._clicks.values():
                starts[:] = [start for start in starts if start <= now or start < frame]

    def silence(self) -> None:
        """Withdraw, and cut every note off."""
        with self._lock:
            if self._out is not None:
                self._queue.withdraw()
                self._clicks.clear()
                self._out.synth.sounds_off()

    def close(self) -> None:
        """Silence and release the device."""
        with self._lock:
            out, self._out = self._out, None
        if out is not None:
            out.sequencer.withdraw()
            out.synth.sounds_off()
            out.close()
