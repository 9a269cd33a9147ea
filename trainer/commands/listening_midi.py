"""Listening by MIDI: the loop sounds on the synth, and the notes that come in are cut into passes by their stamps."""

import time
from collections import deque
from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.commands.hearing_pass import HeardPass
from trainer.commands.line import MachineError
from trainer.commands.playing import Playing
from trainer.commands.sink import SYNTH, open_sink
from trainer.listening.midi_take import live_take
from trainer.playback.midi_source import MidiSource, Received, SourceGoneError
from trainer.playback.port_names import PortError
from trainer.playback.share import PassReport
from trainer.playback.transport import Transport

if TYPE_CHECKING:
    from trainer.listening.written import Written

BEFORE_S, AFTER_S = 0.15, 0.1
KEEP_S = 1_800.0
PAUSE_SECONDS = 0.005


class MidiListener:
    """Plays on the synth and hands out the take of each pass when it is over."""

    def __init__(self, playing: Playing, port: str) -> None:
        """Open the synth and the port. Raises MachineError, NoSoundError."""
        try:
            self._source = MidiSource(port)
        except PortError as error:
            raise MachineError(str(error)) from None
        self._reports: deque[PassReport] = deque()
        try:
            self._sink = open_sink(SYNTH, playing)
        except Exception:
            self._source.close()
            raise
        self._transport = Transport(
            playing.timeline, self._sink, playing.plan, next_share=playing.next_share, on_pass=self._reports.append
        )
        self._came: deque[Received] = deque()
        self._offset: float | None = None
        self.gone = ""
        """Why nothing more comes in, as a sentence."""

    @property
    def port(self) -> str:
        """The name of the port that was opened."""
        return self._source.port

    def heard(self, written: "Written") -> Iterator[HeardPass]:
        """The take of each pass, as soon as it is over. Raises SinkGoneError."""
        last_end = max(float(stroke.at + stroke.length) for stroke in written.strokes)
        self._transport.play()
        running = True
        while running or self._reports:
            running = self._transport.advance()
            self._look()
            while self._reports and time.monotonic() >= self._at(self._reports[0].start) + last_end + AFTER_S:
                yield self._cut(self._reports.popleft(), last_end)
            if self.gone:
                return
            time.sleep(PAUSE_SECONDS)

    def _look(self) -> None:
        """Take what came, and tie the synth's frames to the steady clock by the earliest sight of each."""
        try:
            self._came.extend(self._source.take())
        except SourceGoneError as gone:
            self.gone = str(gone)
        while self._came and self._came[0].seconds < time.monotonic() - KEEP_S:
            self._came.popleft()
        offset = time.monotonic() - self._sink.now() / self._sink.rate
        self._offset = offset if self._offset is None else min(self._offset, offset)

    def _at(self, frame: Fraction) -> float:
        """When a frame is heard, on the steady clock, as far as the driver tells."""
        latency = getattr(self._sink, "latency", 0)
        return (self._offset or 0.0) + (float(frame) + latency) / self._sink.rate

    def _cut(self, report: PassReport, last_end: float) -> HeardPass:
        start = self._at(report.start)
        first = start - BEFORE_S
        inside = [item for item in self._came if item.seconds <= start + last_end + AFTER_S]
        return HeardPass(
            report.number,
            live_take(inside, first),
            BEFORE_S,
            False,
            report.tempo_bpm,
            float(report.end - report.start) / self._sink.rate,
            start + last_end,
        )

    def close(self) -> None:
        """Silence the synth and release both."""
        self._source.close()
        self._sink.silence()
        self._sink.close()
