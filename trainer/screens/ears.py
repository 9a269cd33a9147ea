"""What the stand hears the player through: the sound card's input or a MIDI input, on the stand's own clock."""

from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from trainer.listening.capture import Level
    from trainer.listening.midi_take import MidiTake
    from trainer.listening.sound import Sound

TIE_S = 10.0
"""Seconds of looks that tie the card's frames to the clock; longer, and a difference in speed would show."""
NOTHING_S = 2.0
"""Seconds without a note after which nothing seems to be connected."""


class Ear(Protocol):
    """An open input. Times are seconds of the stand's clock."""

    @property
    def name(self) -> str:
        """The input's name."""

    @property
    def gone(self) -> str:
        """Why nothing more will come, as a sentence; empty while all is well."""

    @property
    def dropped(self) -> int:
        """Times at which something was lost on its way, since it was opened."""

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


class CardEar:
    """The sound card's input."""

    def __init__(self, device: str, clock: Callable[[], float]) -> None:
        """Open it.

        Args:
            device: its name or a part of it; empty for the system's default.
            clock: seconds that never go back.

        Raises:
            ProblemsError: there is no such input, it cannot be opened, or it is wireless.
        """
        from trainer.listening.calibration import is_wireless
        from trainer.listening.capture import Capture
        from trainer.music.problem import Problem, ProblemsError

        self._clock = clock
        self._capture = Capture(device or None)
        self._capture.__enter__()
        self._looks: deque[tuple[float, float]] = deque()
        self._name = self._capture.name
        if is_wireless(self._name):
            self._capture.__exit__()
            what = f"“{self._name}” is connected by Bluetooth, whose delay wanders too much to judge timing by"
            raise ProblemsError([Problem("", 0, 0, what, hint="Use a wired input")])

    @property
    def name(self) -> str:
        """The device's name."""
        return self._name

    @property
    def gone(self) -> str:
        """Whether the device stopped by itself."""
        return f"The input “{self._name}” went away. Connect it, then press L." if self._capture.vanished else ""

    @property
    def dropped(self) -> int:
        """Times at which the system dropped frames."""
        return self._capture.overruns

    def level(self) -> "Level":
        """The level since it was last asked for."""
        self.reach()
        return self._capture.level()

    def reach(self) -> float:
        """The moment of the last frame that came."""
        now, seconds = self._clock(), self._capture.frames / self._capture.rate
        self._looks.append((now, now - seconds))
        while self._looks[0][0] < now - TIE_S:
            self._looks.popleft()
        return seconds + self._offset

    def between(self, first: float, last: float) -> "Sound":
        """What came between two moments."""
        return self._capture.between(max(0, self._frame(first)), max(0, self._frame(last)))

    def forget(self, before: float) -> None:
        """Let go of what came before a moment."""
        self._capture.forget(self._frame(before))

    def close(self) -> None:
        """Release the device."""
        self._capture.__exit__()

    @property
    def _offset(self) -> float:
        """The moment of the first frame: a look is never too early, but often too late."""
        return min((offset for _, offset in self._looks), default=self._clock())

    def _frame(self, moment: float) -> int:
        return round((moment - self._offset) * self._capture.rate)


class MidiEar:
    """A MIDI input."""

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
        """Nothing is lost by MIDI."""
        return 0

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
