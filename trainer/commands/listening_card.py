"""Listening by the sound card: the loop is played and the guitarist recorded in one stream, pass after pass cut out."""

import time
from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.commands.hearing_pass import HeardPass
from trainer.commands.playing import Playing
from trainer.commands.sink import synth_options
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.render import click_keys, sound_of
from trainer.playback.share import PassReport
from trainer.playback.stretch import CountIn

if TYPE_CHECKING:
    from trainer.listening.calibration import RoundTrip
    from trainer.listening.sound import Sound
    from trainer.listening.written import Written

BEFORE_S = 0.15
"""What is cut out before a pass begins."""
AFTER_S, UNKNOWN_AFTER_S = 0.06, 0.12
"""How long after the last note's end is listened, and how long where the round trip is not calibrated."""
PAUSE_SECONDS = 0.01
LEFT, RIGHT, BOTH = "left", "right", "both"
INPUTS = 2
LOUDER = 2.0
"""So many times as loud another input must be before it is taken for the guitar's."""


def inputs_of(source: str) -> int:
    """How many inputs a device has."""
    import sounddevice

    return int(sounddevice.query_devices(source, "input")["max_input_channels"])


def _the_same(report: PassReport) -> Fraction:
    """The tempo stays, for as many passes as are played."""
    return report.share


def _first_pass(playing: Playing, rate: int) -> PassReport:
    """When the first pass is played, before its report comes."""
    plan, timeline = playing.plan, playing.timeline
    start = Fraction(0)
    if plan.count_in:
        start = CountIn.before(timeline, plan.loop.first, plan.count_in).stretch(rate, plan.share, start).end
    tempo = plan.share * timeline.piece.target_bpm(plan.loop.first)
    length = timeline.seconds(plan.loop, plan.share) * rate
    return PassReport(1, plan.share, tempo, start, start + length, steady=True)


class CardListener:
    """Plays what is to be played and hands out the take of each pass when it is over."""

    def __init__(self, playing: Playing, card: tuple[str, str], side: str | None, trip: "RoundTrip | None") -> None:
        """Prepare.

        Args:
            playing: what sounds.
            card: names of the output and the input.
            side: which input of the card is the guitar's: left, right, or both as one; None for the loudest.
            trip: the measured round trip of the two devices; None where there is none.
        """
        from trainer.listening.duplex import Duplex

        options = synth_options(playing)
        self._reports: deque[PassReport] = deque()
        synth = OfflineSynth(playing.bank, options, click_keys(playing.timeline))
        sounds = sound_of(playing.timeline, playing.plan, synth, next_share=_the_same, on_pass=self._reports.append)
        channels = 1 if side == LEFT else min(INPUTS, inputs_of(card[1]))
        self.stream: Duplex = Duplex(sounds, options.rate, output=card[0], source=card[1], channels=channels)
        self._side, self._trip, self._input = side, trip, 0
        self._next = _first_pass(playing, options.rate)
        self._refined_ms: float | None = None

    @property
    def known(self) -> bool:
        """Whether the round trip is: a dropout moves it, by as much as 100 ms, and so may another kind of opening."""
        trip, stream = self._trip, self.stream
        return trip is not None and not stream.overruns and trip.holds(stream.told_ms)

    @property
    def round_trip_ms(self) -> float:
        """The round trip of this opening: measured, or what the device tells, mended by the passes so far."""
        if self._trip is not None and self.known:
            return self._trip.milliseconds
        return self.stream.told_ms if self._refined_ms is None else self._refined_ms

    @property
    def input(self) -> int:
        """The input that is listened to, from 1; 0 for both as one."""
        return 0 if self._side == BOTH else 2 if self._side == RIGHT else self._input + 1

    def heard(self, written: "Written") -> Iterator[HeardPass]:
        """The take of each pass, as soon as it is over; the last one cut short where the device vanishes."""
        stream, overruns = self.stream, 0
        last_end = max(float(stroke.at + stroke.length) for stroke in written.strokes)
        while True:
            after = AFTER_S if self.known else UNKNOWN_AFTER_S
            trip = self.round_trip_ms / 1000
            if self._reports:
                report = self._reports[0]
                last = round(report.start + (last_end + trip) * stream.rate)
                if stream.frames >= last + after * stream.rate:
                    self._reports.popleft()
                    yield self._cut(report, last, after, overruns)
                    length = report.end - report.start
                    self._next = replace(report, number=report.number + 1, start=report.end, end=report.end + length)
                    overruns = stream.overruns
                    stream.forget(round(report.end - (BEFORE_S + 1) * stream.rate))
                    continue
            elif stream.all_played:
                return
            if stream.vanished:
                yield from self._rest(overruns)
                return
            time.sleep(PAUSE_SECONDS)

    def begins_differently(self, late_s: float) -> None:
        """A pass was followed and began so much later than was expected: the next one is looked for there."""
        if not self.known:
            self._refined_ms = self.round_trip_ms + late_s * 1000

    def _cut(self, report: PassReport, last: int, after: float, overruns: int) -> HeardPass:
        stream, rate = self.stream, self.stream.rate
        start = report.start + round(self.round_trip_ms * rate / 1000)
        first = max(0, round(start - BEFORE_S * rate))
        since = (stream.frames - last) / rate
        return HeardPass(
            report.number,
            self._mono(first, last + round(after * rate)),
            float(start - first) / rate,
            self.known,
            report.tempo_bpm,
            float(report.end - report.start) / rate,
            time.monotonic() - since,
            stream.played(first, last),
            stream.overruns - overruns,
            within_ms=self._trip.spread_ms if self._trip is not None else 0.0,
        )

    def _rest(self, overruns: int) -> Iterator[HeardPass]:
        """What there is of the pass in which the device vanished."""
        report, last = self._next, self.stream.frames
        if last > report.start + self.stream.rate:
            yield replace(self._cut(report, last, 0.0, overruns), loop=None, cut_short=True)

    def _mono(self, first: int, last: int) -> "Sound":
        import numpy as np

        from trainer.listening.sound import Sound

        sounds = self.stream.heard(first, last)
        if self._side == BOTH and len(sounds) > 1:
            return Sound((sounds[0].samples + sounds[1].samples) * np.float32(0.5), sounds[0].rate)
        if self._side is None:
            loud = [float(np.sqrt(np.mean(sound.samples**2))) if len(sound.samples) else 0.0 for sound in sounds]
            best = int(np.argmax(loud))
            if loud[best] > LOUDER * loud[self._input]:
                self._input = best
            return sounds[self._input]
        return sounds[1 if self._side == RIGHT and len(sounds) > 1 else 0]
