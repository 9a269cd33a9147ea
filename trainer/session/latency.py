"""How late the player's sound comes in: as calibration measured it, and as the passes played so far tell it.

Latency runs from the moment at which a frame is heard, by the output's own clock, until it comes in through the input.
All figures are seconds unless their name says milliseconds; + is later.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from trainer.session.inputs import Input
    from trainer.session.machine import Sounding

EARLIEST_S, LATEST_S = -0.15, 0.4
"""The earliest and the latest that sound may come in, counted from what the device tells."""


@dataclass(frozen=True, slots=True)
class CalibratedLatency:
    """The latency of one output and one input, as calibration measured it."""

    late_s: float
    """Seconds from hearing a frame until it comes in."""
    within_ms: float
    """How far that may be wrong, in milliseconds."""

    def widened(self, seconds: float) -> "CalibratedLatency":
        """The same latency, known less exactly by so many seconds."""
        return replace(self, within_ms=self.within_ms + 1000 * seconds)


class Latency:
    """The latency to reckon with: the calibrated one, or else what the passes so far have told."""

    def __init__(self, told_s: Callable[[], float] = lambda: 0.0) -> None:
        """Begin with a guess.

        Args:
            told_s: gives the seconds of latency that the device itself tells.
        """
        self._told_s = told_s
        self._learned_s: float | None = None

    def seconds(self, calibrated: CalibratedLatency | None) -> float:
        """Seconds by which the player's sound comes in late."""
        if calibrated is not None:
            return calibrated.late_s
        return self._told_s() if self._learned_s is None else self._learned_s

    def is_known(self, calibrated: CalibratedLatency | None) -> bool:
        """Whether that is more than a guess."""
        return self._learned_s is not None or calibrated is not None

    def guesses(self, calibrated: CalibratedLatency | None) -> Sequence[float] | None:
        """Corrections in seconds that are worth trying; None for the usual ones."""
        return (0.0,) if self._learned_s is not None and calibrated is None else None

    def learn(self, seconds: float) -> None:
        """A pass came in so late: look for the next one there."""
        told = self._told_s()
        self._learned_s = min(max(seconds, told + EARLIEST_S), told + LATEST_S)

    def forget(self) -> None:
        """A pass could not be followed: guess again."""
        self._learned_s = None


def calibrated_latency(round_trips: Path, source: "Input", sounding: "Sounding") -> CalibratedLatency | None:
    """Look up what calibration measured of an input and of what sounds; None where it did not.

    Args:
        round_trips: the file that keeps the measured round trips.
        source: the open input.
        sounding: the open sink.

    Raises:
        ProblemsError: the output is wireless.
    """
    from trainer.playback.synth_sink import SynthSink

    sink = sounding.sink
    if not isinstance(sink, SynthSink):
        return None
    from trainer.listening.calibration import STAND, RoundTrip, stored_for, wireless_problem
    from trainer.listening.devices import driven_device
    from trainer.music.problem import ProblemsError
    from trainer.session.inputs import CardInput

    output = driven_device(sink.driver)
    if output.wireless:
        raise ProblemsError([wireless_problem(output.about or output.name)])
    if not isinstance(source, CardInput):
        return None
    wanted = RoundTrip(
        output.name, source.device, source.rate, 0.0, 0.0, way=STAND, driver=sink.driver, period=sink.period
    )
    trip = stored_for(round_trips, wanted)
    if trip is None:
        return None
    return CalibratedLatency(trip.milliseconds / 1000 - sounding.latency_seconds, trip.spread_ms)


@runtime_checkable
class DeviceClock(Protocol):
    """A sink that knows at which moment its device played a frame."""

    def moment(self, frame: float) -> float | None:
        """When a frame was or will be rendered, on the session's clock; None while that is not known."""

    def stood_still(self, first: float, last: float) -> float:
        """For how many seconds the device stood still between two frames; inf where no measured latency holds."""


def heard_at(sounding: "Sounding", frame: Fraction, otherwise: float) -> float:
    """The moment at which a frame began to be heard, on the session's clock.

    Args:
        sounding: the open sink.
        frame: by the sink's clock.
        otherwise: the answer where the sink cannot tell: judged by a single look at its clock.
    """
    if not isinstance(sounding.sink, DeviceClock):
        return otherwise
    rendered = sounding.sink.moment(float(frame))
    return otherwise if rendered is None else rendered + sounding.latency_seconds


def allowing_for_dropouts(
    calibrated: CalibratedLatency | None, sounding: "Sounding", first: Fraction, last: Fraction
) -> CalibratedLatency | None:
    """The latency of a pass between two frames, known less exactly where the device stood still meanwhile."""
    if calibrated is None or not isinstance(sounding.sink, DeviceClock):
        return calibrated
    stood_still = sounding.sink.stood_still(float(first), float(last))
    return calibrated.widened(stood_still) if isfinite(stood_still) else None
