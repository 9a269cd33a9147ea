"""What the player is heard through: the sound card's input or a MIDI input.

Moments are seconds on the session's clock.
"""

from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

if TYPE_CHECKING:
    from trainer.listening.capture import Level
    from trainer.listening.midi_take import MidiTake
    from trainer.listening.sound import Sound

INPUTS = 2
"""So many inputs of the sound card are recorded: the guitar may be on the second."""
NOTHING_S = 2.0
"""After so many seconds without a note nothing seems to be connected."""


class Input(Protocol):
    """An open input."""

    @property
    def name(self) -> str:
        """The input's name."""

    @property
    def gone(self) -> str:
        """Why nothing more will come, as a sentence; empty while all is well."""

    @property
    def dropped(self) -> int:
        """Times at which something was lost on its way, since it was opened."""

    @property
    def told_late_s(self) -> float:
        """Seconds from hearing a frame until it comes in, as the device itself tells; 0 where nobody asks it."""

    def level(self) -> "Level":
        """The level since it was last asked for."""

    def reach(self) -> float:
        """Look what has come; the moment up to which everything has."""

    def between(self, first: float, last: float) -> "Sound | MidiTake":
        """What came between two moments; its time counts from the first one."""

    def forget(self, before: float) -> None:
        """Let go of what came before a moment."""

    def close(self) -> None:
        """Release it. May be called twice."""


@runtime_checkable
class SoundInput(Protocol):
    """An input of sound, which can be taken frame by frame without a seam."""

    @property
    def rate(self) -> int:
        """Frames a second."""

    def frame_of(self, moment: float) -> int:
        """The frame that came at a moment."""

    def moment_of(self, frame: int) -> float:
        """The moment at which a frame came."""

    def frames(self, first: int, last: int) -> "Sound":
        """What came from one frame to another, as far as it has come."""


class CardInput:
    """The sound card's input."""

    told_late_s = 0.0

    def __init__(self, device: str, clock: Callable[[], float]) -> None:
        """Open it.

        Args:
            device: its name or a part of it; empty for the system's default.
            clock: seconds that never go back.

        Raises:
            ProblemsError: there is no such input, it cannot be opened, or it is wireless.
        """
        from trainer.listening.calibration import wireless_problem
        from trainer.listening.capture import Capture
        from trainer.listening.devices import real_device
        from trainer.music.problem import ProblemsError

        self._capture = Capture(device or None, channels=INPUTS, clock=clock)
        self._capture.__enter__()
        real = real_device(self._capture.name, "input")
        self._name, self._about = real.name, real.about or real.name
        if real.wireless:
            self._capture.__exit__()
            raise ProblemsError([wireless_problem(self._about)])

    @property
    def name(self) -> str:
        """The device, and which of its inputs is listened to where that is not the first one."""
        side = self._capture.side
        return f"{self._about}, input {side + 1}" if side or self._capture.chosen is not None else self._about

    @property
    def device(self) -> str:
        """The device's own name, under which its calibration is kept."""
        return self._name

    @property
    def rate(self) -> int:
        """Frames a second."""
        return self._capture.rate

    @property
    def inputs(self) -> int:
        """How many inputs there are to choose from."""
        return self._capture.channels

    def next_input(self) -> None:
        """Listen to the next of the device's inputs, or again to the loudest after the last one."""
        chosen = self._capture.chosen
        following = 0 if chosen is None else chosen + 1
        self._capture.choose(following if following < self._capture.channels else None)

    @property
    def gone(self) -> str:
        """Whether the device stopped by itself."""
        return f"The input “{self._about}” went away. Connect it, then press L." if self._capture.vanished else ""

    @property
    def dropped(self) -> int:
        """Times at which the system dropped frames."""
        return self._capture.overruns

    def level(self) -> "Level":
        """The level since it was last asked for."""
        return self._capture.level()

    def reach(self) -> float:
        """The moment of the last frame that came."""
        return self._capture.moment(self._capture.frames)

    def between(self, first: float, last: float) -> "Sound":
        """What came between two moments."""
        capture = self._capture
        return capture.between(max(0, capture.frame(first)), max(0, capture.frame(last)))

    def frame_of(self, moment: float) -> int:
        """The frame that came at a moment."""
        return max(0, self._capture.frame(moment))

    def moment_of(self, frame: int) -> float:
        """The moment at which a frame came."""
        return self._capture.moment(frame)

    def frames(self, first: int, last: int) -> "Sound":
        """What came from one frame to another, as far as it has come."""
        return self._capture.between(first, last)

    def forget(self, before: float) -> None:
        """Let go of what came before a moment."""
        self._capture.forget(self._capture.frame(before))

    def close(self) -> None:
        """Release the device."""
        self._capture.__exit__()


class MidiInput:
    """A MIDI input."""

    told_late_s = 0.0

    def __init__(self, source: Any, clock: Callable[[], float]) -> None:
        """Hear an open `MidiSource`, whose stamps are of the same clock."""
        self._source, self._clock = source, clock
        self._came: deque[Any] = deque()
        self._gone = ""
        self._loudest, self._last = 0, clock() - NOTHING_S

    @property
    def name(self) -> str:
        """The port's name."""
        return str(self._source.port)

    @property
    def gone(self) -> str:
        """Whether the port is there no more."""
        return self._gone

    @property
    def dropped(self) -> int:
        """How often the process that listens was lost and started again."""
        return int(self._source.restarts)

    def level(self) -> "Level":
        """The loudest note since it was last asked for, with full velocity as full scale."""
        from math import log10

        from trainer.listening.capture import Level

        now = self.reach()
        loudest, self._loudest = self._loudest, 0
        return Level(20 * log10(max(loudest / 127, 1e-6)), False, now - self._last > NOTHING_S)

    def reach(self) -> float:
        """Take what came."""
        from trainer.playback.midi_source import SourceGoneError

        now = self._clock()
        if self._gone:
            return now
        try:
            for item in self._source.take():
                self._came.append(item)
                message = item.message
                if len(message) == 3 and message[0] & 0xF0 == 0x90 and message[2]:
                    self._loudest, self._last = max(self._loudest, message[2]), now
        except SourceGoneError as gone:
            self._gone = str(gone)
        return now

    def between(self, first: float, last: float) -> "MidiTake":
        """The notes between two moments."""
        from trainer.listening.midi_take import live_take

        return live_take([item for item in list(self._came) if item.seconds <= last], first)

    def forget(self, before: float) -> None:
        """Let go of what came before a moment."""
        while self._came and self._came[0].seconds < before:
            self._came.popleft()

    def close(self) -> None:
        """Release the port."""
        self._source.close()
