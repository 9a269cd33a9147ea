"""The synth without a device: a sink on a virtual clock that counts the frames it has rendered.

Events take effect at the block of 64 frames that begins nearest to their frame, as on the live sink: within 32
frames. The click is not played by the synth: each of its sounds is rendered once, dry, and added at its exact frame.
"""

from collections import deque
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK, Synth
from trainer.playback.mix import CLICK
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_sink import ClickKeys

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_CLICK_SECONDS = 0.4
_QUIET = 1e-5


class OfflineSynth:
    """A sink that renders when it is asked to."""

    def __init__(self, bank: Path, options: SynthOptions | None = None, click: ClickKeys | None = None) -> None:
        """Make the synth.

        Args:
            bank: the SoundFont to play.
            options: how the synth sounds.
            click: the keys of the click.

        Raises:
            SynthError: the bank cannot be read.
            LibraryMissingError: libfluidsynth is not installed.
        """
        self._options = options or SynthOptions()
        self._bank = bank
        self._click = click or ClickKeys()
        self._synth: Synth | None = self._options.make(bank)
        self._queue: deque[Event] = deque()
        self._frame = 0
        self._click_settings: dict[tuple[Kind, int, int], Event] = {}
        self._click_sounds: dict[tuple[Event, ...], NDArray[np.float32]] = {}
        self._clicking: list[tuple[int, NDArray[np.float32]]] = []

    @property
    def rate(self) -> int:
        """Frames a second."""
        return self._options.rate

    @property
    def min_ahead(self) -> int:
        """None: its clock stands still until it is asked to render."""
        return 0

    def now(self) -> int:
        """How many frames have been rendered."""
        return self._frame

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        """Reset every channel and carry out `events` at once."""
        self._queue.clear()
        self._clicking.clear()
        self._click_settings.clear()
        self._click_channels = frozenset(layout.of_part(CLICK))
        self._opened().reset()
        for event in events:
            self._do(event)

    def send(self, events: Sequence[Event]) -> None:
        """Queue events."""
        late = bool(self._queue) and bool(events) and events[0].frame < self._queue[-1].frame
        self._queue.extend(events)
        if late:
            self._queue = deque(sorted(self._queue, key=lambda event: event.frame))

    def withdraw(self) -> None:
        """Drop what is queued."""
        self._queue.clear()

    def withdraw_from(self, frame: int) -> None:
        """Drop what is due at a frame or later."""
        self._queue = deque(event for event in self._queue if event.frame < frame)

    def silence(self) -> None:
        """Drop what is queued, and cut every note off."""
        self._queue.clear()
        self._clicking.clear()
        if self._synth is not None:
            self._synth.sounds_off()

    def close(self) -> None:
        """Release the synth."""
        if self._synth is not None:
            self._synth.close()
            self._synth = None

    def render(self, frames: int) -> "NDArray[np.float32]":
        """Render some frames, carrying out what is due; an array of shape (frames, 2). Raises SynthError.

        What is due in the half block after the last frame must have been sent, too.
        """
        import numpy as np  # heavy: only where sound is rendered

        synth, queue = self._opened(), self._queue
        out = np.empty((frames, 2), dtype=np.float32)
        address, begin, end = out.ctypes.data, self._frame, self._frame + frames
        done = begin
        while queue and (start := (queue[0].frame + BLOCK // 2) // BLOCK * BLOCK) < end:
            if start > done:
                synth.write_float(address + 8 * (done - begin), start - done)
                done = start
            self._do(queue.popleft())
        if end > done:
            synth.write_float(address + 8 * (done - begin), end - done)
        self._frame = end
        self._add_clicks(out, begin)
        return out

    def _opened(self) -> Synth:
        if self._synth is None:
            raise ValueError("the synth has been closed")
        return self._synth

    def _do(self, event: Event) -> None:
        if event.kind is Kind.CLICK:
            self._clicking.append((event.frame, self._click_sound(event)))
        else:
            if event.channel in self._click_channels:
                controller = event.one if event.kind is Kind.CONTROL else 0
                self._click_settings[event.kind, event.channel, controller] = event._replace(frame=0)
            self._opened().do(event)

    def _add_clicks(self, out: "NDArray[np.float32]", begin: int) -> None:
        going_on = []
        for frame, sound in self._clicking:
            skip = max(0, begin - frame)
            at = max(0, frame - begin)
            part = sound[skip : skip + len(out) - at] if at < len(out) else sound[:0]
            out[at : at + len(part)] += part
            if skip + len(part) < len(sound):
                going_on.append((frame, sound))
        self._clicking = going_on

    def _click_sound(self, event: Event) -> "NDArray[np.float32]":
        """One click, dry, from its first frame on; an array of shape (frames, 2)."""
        key = self._click.accented if event.one else self._click.plain
        start = Event(0, Kind.NOTE_ON, event.channel, key, event.two)
        name = (*self._click_settings.values(), start)
        if name not in self._click_sounds:
            import numpy as np

            options = SynthOptions(self._options.rate, self._options.gain, reverb=False, chorus=False)
            synth = options.make(self._bank)
            for each in name:
                synth.do(each)
            sound = synth.render(int(_CLICK_SECONDS * self._options.rate))
            synth.close()
            loud = np.flatnonzero(np.abs(sound).max(axis=1) > _QUIET)
            self._click_sounds[name] = sound[: loud[-1] + 1] if len(loud) else sound[:0]
        return self._click_sounds[name]
