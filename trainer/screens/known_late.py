"""How late the stand hears what it plays: when a pass began by the sink's own clock, and what calibration knows."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.screens.ears import Ear
    from trainer.screens.wiring import Sounding


@dataclass(frozen=True, slots=True)
class Known:
    """What calibration knows of an output and an input."""

    late_s: float
    """Seconds from the moment at which the stand takes a frame to be heard until it comes in."""
    within_ms: float
    """How far that may be wrong, in milliseconds."""

    def also(self, seconds: float) -> "Known":
        """The same when so much more is uncertain."""
        return replace(self, within_ms=self.within_ms + 1000 * seconds)


LooksUp = Callable[["Ear", "Sounding"], Known | None]
"""What is known of an open input and of what sounds; None where nothing is.

Raises ProblemsError where nobody can be judged so: the output is connected by Bluetooth."""


def nothing_known(_ear: "Ear", _sounding: "Sounding") -> Known | None:
    """Nothing was calibrated."""
    return None


def kept_lateness(round_trips: Path) -> LooksUp:
    """Looks up what `twinspur calibrate` measured of the stand's way.

    Args:
        round_trips: the file where that is kept.
    """

    def look_up(ear: "Ear", sounding: "Sounding") -> Known | None:
        from trainer.playback.synth_sink import SynthSink

        sink = sounding.sink
        if not isinstance(sink, SynthSink):
            return None
        from trainer.listening.calibration import STAND, RoundTrip, stored_for, wireless_problem
        from trainer.listening.device_names import driven_device
        from trainer.music.problem import ProblemsError
        from trainer.screens.ears import CardEar

        output = driven_device(sink.driver)
        if output.wireless:
            raise ProblemsError([wireless_problem(output.about or output.name)])
        if not isinstance(ear, CardEar):
            return None
        wanted = RoundTrip(
            output.name, ear.device, ear.rate, 0.0, 0.0, way=STAND, driver=sink.driver, period=sink.period
        )
        trip = stored_for(round_trips, wanted)
        return None if trip is None else Known(trip.milliseconds / 1000 - sounding.latency_seconds, trip.spread_ms)

    return look_up


def began(sounding: "Sounding", frame: Fraction, otherwise: float) -> float:
    """When a frame began to be heard, on the stand's clock.

    Args:
        sounding: what plays it.
        frame: of the sink's clock.
        otherwise: when it seems to have, by a single look at the sink.
    """
    from trainer.playback.synth_sink import SynthSink

    if not isinstance(sounding.sink, SynthSink):
        return otherwise
    rendered = sounding.sink.moment(float(frame))
    return otherwise if rendered is None else rendered + sounding.latency_seconds


def while_it_sounded(known: Known | None, sounding: "Sounding", first: Fraction, last: Fraction) -> Known | None:
    """What is known of a pass, where the device may have stood still for a moment while it was played."""
    from trainer.playback.synth_sink import SynthSink

    if known is None or not isinstance(sounding.sink, SynthSink):
        return known
    return known.also(sounding.sink.stood_still(float(first), float(last)))
