"""The sound card played and recorded in one stream: a sink and an input for a session, both on one clock.

What was played at frame `p` comes back at frame `p` plus the round trip, in every pass, for as long as the stream is
open. So the session's clock is the stream's own: seconds of it that were played. The synth renders some way ahead of
what is played, and the sink's clock is that of the synth.
"""

import threading
from collections.abc import Iterator, Sequence
from math import inf, log10
from typing import TYPE_CHECKING, Final

import numpy as np

from trainer.listening.capture import FULL, LOUDER, NOTHING_DB, NOTHING_S, Level
from trainer.listening.duplex import Duplex
from trainer.listening.sound import Samples, Sound
from trainer.playback.fluid import BLOCK
from trainer.playback.time_limit import TimeLimitError, call_within
from trainer.session.inputs import INPUTS
from trainer.session.latency import CalibratedLatency
from trainer.session.machine import Sounding

if TYPE_CHECKING:
    from trainer.listening.calibration import RoundTrip
    from trainer.playback.channel_layout import ChannelLayout
    from trainer.playback.event import Event
    from trainer.playback.offline_synth import OfflineSynth
    from trainer.session.inputs import Input

LEFT, RIGHT, BOTH = SIDES = ("left", "right", "both")
AHEAD_S: Final = 0.75
"""How far the synth renders ahead of what is played: nobody changes anything while it plays, so it may be far."""
CHUNK: Final = 1024
"""Frames that are rendered at once."""
CLOSING_S: Final = 2.0
"""Seconds that the device may take to close; that of a sound server that died never does."""
VANISHED = "The sound card is no longer there. What was played so far is kept. Connect it again, and start again."


class DuplexCard:
    """One stream of the sound card, with what a session needs of it."""

    def __init__(
        self, synth: "OfflineSynth", *, output: str, source: str, side: str | None, trip: "RoundTrip | None"
    ) -> None:
        """Prepare; `begin` opens the devices.

        Args:
            synth: what sounds; it is closed with the stream.
            output: the output's full name.
            source: the input's full name.
            side: which input of the card is the guitar's: left, right, or both as one; None for the loudest.
            trip: the measured round trip of the two devices; None where there is none.
        """
        self._trip = trip
        channels = 1 if side == LEFT else min(INPUTS, inputs_of(source))
        self.sink = DuplexSink(synth, self)
        self.stream = Duplex(
            self.sink.rendered(), synth.rate, output=output, source=source, channels=channels, ahead_s=AHEAD_S
        )
        self.input = DuplexInput(self.stream, source, side)

    def begin(self) -> None:
        """Open the devices and begin, in silence. Raises ProblemsError where they cannot be opened."""
        self.stream.begin()

    @property
    def sounding(self) -> Sounding:
        """The sink, as a session takes it."""
        return Sounding(self.sink, "sound card", latency_seconds=AHEAD_S)

    def clock(self) -> float:
        """Seconds that were played: the clock of a session on this card. It stands still when the card vanishes."""
        return self.stream.frames / self.stream.rate

    def latency(self, _input: "Input", _sounding: Sounding) -> CalibratedLatency | None:
        """The measured round trip as a session asks for it; None where there is none."""
        trip = self._trip
        return None if trip is None else CalibratedLatency(trip.milliseconds / 1000, trip.spread_ms)

    @property
    def lost_place(self) -> bool:
        """Whether the measured round trip does not hold: a dropout moves it, and so may another kind of opening."""
        stream, trip = self.stream, self._trip
        return bool(stream.overruns) or (trip is not None and not trip.holds(stream.told_ms))


class DuplexSink:
    """The synth that the stream plays: a `Sink` whose clock counts the frames it has rendered."""

    def __init__(self, synth: "OfflineSynth", card: DuplexCard) -> None:
        self._synth, self._card = synth, card
        self._lock = threading.RLock()
        self._closed = False

    def rendered(self) -> Iterator[Samples]:
        """Its sound, piece by piece, without an end; in the stream's own thread."""
        try:
            while not self._closed:
                with self._lock:
                    sound = self._synth.render(CHUNK)
                yield sound
        finally:
            with self._lock:
                self._closed = True
                self._synth.close()

    @property
    def rate(self) -> int:
        """Frames a second."""
        return self._synth.rate

    @property
    def min_ahead(self) -> int:
        """What may be rendered before an event arrives, after a moment in which nothing was."""
        return 4 * CHUNK + BLOCK

    def now(self) -> int:
        """How many frames have been rendered."""
        return self._synth.now()

    def moment(self, frame: float) -> float:
        """When a frame was rendered, had it been exactly `AHEAD_S` before it was played."""
        return frame / self.rate - AHEAD_S

    def stood_still(self, _first: float, _last: float) -> float:
        """0, or without bounds once the card has lost its place."""
        return inf if self._card.lost_place else 0.0

    def prepare(self, layout: "ChannelLayout", events: "Sequence[Event]") -> None:
        """Reset every channel and carry out `events` at once."""
        with self._lock:
            if not self._closed:
                self._synth.prepare(layout, events)

    def send(self, events: "Sequence[Event]") -> None:
        """Queue events."""
        with self._lock:
            self._synth.send(events)

    def withdraw(self) -> None:
        """Drop what is queued."""
        with self._lock:
            self._synth.withdraw()

    def withdraw_from(self, frame: int) -> None:
        """Drop what is due at a frame or later."""
        with self._lock:
            self._synth.withdraw_from(frame)

    def silence(self) -> None:
        """Drop what is queued, and cut every note off."""
        with self._lock:
            self._synth.silence()

    def close(self) -> None:
        """Close the stream, and with it the synth; one that hangs is left behind."""
        self._closed = True
        close_stream(self._card.stream)


class DuplexInput:
    """What the stream records: an input of sound, frame by frame on the stream's clock."""

    def __init__(self, stream: Duplex, name: str, side: str | None) -> None:
        """Listen to one side of an input.

        Args:
            stream: the stream.
            name: the input's name.
            side: as for `DuplexCard`.
        """
        self._stream, self.name, self._side = stream, name, side
        self._chosen = 1 if side == RIGHT and stream.channels > 1 else 0
        self._loudest = np.zeros(stream.channels)
        self._seen = self._last_loud = 0
        self._peak = 0.0

    @property
    def rate(self) -> int:
        """Frames a second."""
        return self._stream.rate

    @property
    def number(self) -> int:
        """The input of the card that is listened to, from 1; 0 for both as one."""
        return 0 if self._side == BOTH else self._chosen + 1

    @property
    def gone(self) -> str:
        """Whether the card stopped by itself."""
        return VANISHED if self._stream.vanished else ""

    @property
    def dropped(self) -> int:
        """Times at which frames were lost."""
        return self._stream.overruns

    @property
    def told_late_s(self) -> float:
        """The round trip as the device tells it, in seconds."""
        return self._stream.told_ms / 1000

    def level(self) -> Level:
        """The level since it was last asked for."""
        self._watch()
        peak, self._peak = self._peak, 0.0
        quiet = self._seen - self._last_loud > NOTHING_S * self.rate
        return Level(20 * log10(max(peak, 1e-6)), peak >= FULL, quiet)

    def reach(self) -> float:
        """The second of the last frame that came in."""
        self._watch()
        return self._seen / self.rate

    def frame_of(self, moment: float) -> int:
        """The frame that came in at a moment."""
        return max(0, round(moment * self.rate))

    def moment_of(self, frame: int) -> float:
        """The moment at which a frame came in."""
        return frame / self.rate

    def frames(self, first: int, last: int) -> Sound:
        """What came in from one frame to another, as far as it has come."""
        sounds = self._stream.heard(first, last)
        if self._side == BOTH and len(sounds) > 1:
            return Sound((sounds[0].samples + sounds[1].samples) * np.float32(0.5), self.rate)
        return sounds[self._chosen]

    def between(self, first: float, last: float) -> Sound:
        """What came in between two moments."""
        return self.frames(self.frame_of(first), self.frame_of(last))

    def forget(self, before: float) -> None:
        """Let go of what came in before a moment."""
        self._stream.forget(self.frame_of(before))

    def close(self) -> None:
        """Nothing to release: the stream is closed with its sink."""

    def _watch(self) -> None:
        """Take in how loud the inputs were since the last look; the loudest is the guitar's where none was named."""
        first, last = self._seen, self._stream.frames
        if last <= first:
            return
        self._seen = last
        peaks = np.array([sound.peak for sound in self._stream.heard(first, last)])
        self._loudest = np.maximum(self._loudest, peaks)
        if self._side is None:
            best = int(np.argmax(self._loudest))
            if self._loudest[best] > LOUDER * self._loudest[self._chosen]:
                self._chosen = best
        self._peak = max(self._peak, float(peaks[self._chosen]))
        if peaks[self._chosen] > 10 ** (NOTHING_DB / 20):
            self._last_loud = last


def inputs_of(source: str) -> int:
    """How many inputs a device has."""
    import sounddevice

    return int(sounddevice.query_devices(source, "input")["max_input_channels"])


def close_stream(stream: Duplex) -> bool:
    """Close a stream; False where it hangs, and is left behind with what PortAudio would do as the program ends."""
    try:
        call_within(CLOSING_S, stream.close)
    except TimeLimitError:
        import atexit

        import sounddevice

        atexit.unregister(sounddevice._exit_handler)  # it would wait for the dead server for ever
        return False
    return True
