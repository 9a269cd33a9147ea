"""The round trip of a sound card: how long from playing a sample to hearing it come back.

A marker (a sweep, found by correlation to a fraction of a sample) is played and recorded several times over a loop:
a cable from output to input, or a microphone at the headphones. Trials go on until their spread is under a
millisecond. What a device says of its own latency can be wrong by a factor of two and is not asked. Results are kept
by the devices' names.
"""

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median

import numpy as np

from trainer.listening.sound import Floats, Samples
from trainer.music.problem import Problem, ProblemsError

MARKER_S, GAP_S, LEAD_S = 0.08, 0.45, 0.3
MARKERS = 6
LOW_HZ, HIGH_HZ = 400.0, 6_000.0
CLEAR = 0.4
"""Correlation with the marker, of 1, from which it was surely heard."""
MOST_SPREAD_MS, MOST_TRIALS = 1.0, 4
LONGEST_S = GAP_S
WIRELESS = ("bluez", "bluetooth", "a2dp", "hfp", "hands-free", "handsfree", "wireless", "le audio")
"""Words in the names of devices whose delay wanders too much to judge by."""

PlayAndRecord = Callable[[Samples], Samples]
"""Plays mono samples and returns what was recorded meanwhile, from the same moment on."""


@dataclass(frozen=True, slots=True)
class RoundTrip:
    """A measured round trip."""

    output: str
    """Name of the output device."""
    input: str
    """Name of the input device."""
    rate: int
    milliseconds: float
    spread_ms: float
    """Farthest of the measured delays from their median."""
    measured: str = ""
    """The day, as YYYY-MM-DD."""
    told_ms: float = 0.0
    """What the device itself told of its round trip meanwhile; 0 where that was not asked."""

    def now_ms(self, told_ms: float) -> float:
        """The round trip of another opening of the devices, which tells `told_ms`: what it tells wrongly stays."""
        return self.milliseconds + (told_ms - self.told_ms if self.told_ms else 0.0)


def is_wireless(device: str) -> bool:
    """Whether a device's name says that it is connected by Bluetooth."""
    name = device.casefold()
    return any(word in name for word in WIRELESS)


def marker(rate: int) -> Samples:
    """The marker: a sweep over four octaves under a smooth window, peak 0.5."""
    time = np.arange(round(MARKER_S * rate)) / rate
    rise = np.log(HIGH_HZ / LOW_HZ)
    phase = 2 * np.pi * LOW_HZ * MARKER_S / rise * (np.exp(time / MARKER_S * rise) - 1)
    return np.asarray(0.5 * np.hanning(len(time)) * np.sin(phase), dtype=np.float32)


def trial_signal(rate: int) -> tuple[Samples, list[float]]:
    """What one trial plays, and the seconds at which its markers begin; gaps are uneven, lest one pass for another."""
    starts = [LEAD_S + k * GAP_S + 0.013 * k * k for k in range(MARKERS)]
    out = np.zeros(round((starts[-1] + MARKER_S + LONGEST_S + 0.2) * rate), np.float32)
    for start in starts:
        first = round(start * rate)
        out[first : first + round(MARKER_S * rate)] += marker(rate)
    return out, [round(start * rate) / rate for start in starts]


def delays(recorded: Samples, rate: int) -> list[float]:
    """The delay of each marker that was heard, in seconds."""
    _, starts = trial_signal(rate)
    wanted = marker(rate).astype(float)
    heard = recorded.astype(float)
    found = []
    for start in starts:
        first = round(start * rate)
        window = heard[first : first + round((MARKER_S + LONGEST_S) * rate)]
        if len(window) <= len(wanted) + 2:
            continue
        score = _normalised(window, wanted)
        best = int(np.argmax(score))
        if score[best] >= CLEAR and 0 < best < len(score) - 1:
            before, here, after = score[best - 1 : best + 2]
            bend = before - 2 * here + after
            found.append((best + (0.5 * (before - after) / bend if bend < 0 else 0.0)) / rate)
    return found


def _normalised(window: Floats, wanted: Floats) -> Floats:
    """Correlation of a window with the marker at every lag, from -1 to 1 times sign of neither: its magnitude."""
    size = 1 << (len(window) + len(wanted)).bit_length()
    product = np.fft.irfft(np.fft.rfft(window, size) * np.conj(np.fft.rfft(wanted, size)), size)
    product = product[: len(window) - len(wanted) + 1]
    energy = np.concatenate([[0.0], np.cumsum(window**2)])
    local = energy[len(wanted) :] - energy[: -len(wanted)]
    return np.asarray(np.abs(product) / np.sqrt(np.maximum(local, 1e-9) * (wanted @ wanted)))


def measure(play: PlayAndRecord, rate: int, output: str, input_name: str, day: str = "") -> RoundTrip:
    """Measure the round trip until its spread is under a millisecond.

    Args:
        play: plays samples on the output while it records the input.
        rate: frames a second.
        output: the output device's name.
        input_name: the input device's name.
        day: today, as YYYY-MM-DD.

    Raises:
        ProblemsError: for a Bluetooth device, when no marker comes back, or the delay wanders.
    """
    for name in (output, input_name):
        if is_wireless(name):
            what = f"“{name}” is connected by Bluetooth, whose delay wanders too much to judge timing by"
            raise ProblemsError([Problem("", 0, 0, what, hint="Use a wired output and input")])
    signal, _ = trial_signal(rate)
    heard, spread = 0, 0.0
    for _ in range(MOST_TRIALS):
        found = delays(play(signal), rate)
        heard = max(heard, len(found))
        if len(found) >= MARKERS - 1:
            middle = median(found)
            spread = max(abs(delay - middle) for delay in found) * 1000
            if spread < MOST_SPREAD_MS:
                return RoundTrip(output, input_name, rate, round(middle * 1000, 3), round(spread, 3), day)
    if heard < MARKERS - 1:
        what = f"Only {heard} of {MARKERS} markers came back" if heard else "No marker came back"
        hint = "Connect the output to the input by a cable, or hold the microphone to the headphones, and turn it up"
        raise ProblemsError([Problem("", 0, 0, what, hint=hint)])
    what = f"The delay wanders by {spread:.1f} ms from marker to marker"
    hint = "Ask for larger periods in the sound settings, close other programs, and try again"
    raise ProblemsError([Problem("", 0, 0, what, hint=hint)])


def read_round_trips(path: Path) -> tuple[RoundTrip, ...]:
    """Every stored round trip; none where the file is missing or damaged."""
    try:
        values = json.loads(path.read_text("utf-8"))
        return tuple(RoundTrip(**item) for item in values)
    except (OSError, ValueError, TypeError):
        return ()


def stored(path: Path, output: str, input_name: str, rate: int | None = None) -> RoundTrip | None:
    """The round trip of two devices by name, at the rate if one was measured at it."""
    mine = [trip for trip in read_round_trips(path) if (trip.output, trip.input) == (output, input_name)]
    return next((trip for trip in mine if trip.rate == rate), mine[-1] if mine else None)


def store(path: Path, trip: RoundTrip) -> None:
    """Keep a round trip, in place of an earlier one of the same devices and rate."""
    key = (trip.output, trip.input, trip.rate)
    keep_only(path, (*(old for old in read_round_trips(path) if (old.output, old.input, old.rate) != key), trip))


def keep_only(path: Path, trips: tuple[RoundTrip, ...]) -> None:
    """Keep these round trips and no others. Raises OSError; the old file stays then."""
    path.parent.mkdir(parents=True, exist_ok=True)
    new = path.with_suffix(".new")
    try:
        new.write_text(json.dumps([asdict(item) for item in trips], indent=1), "utf-8")
        new.replace(path)
    except OSError:
        new.unlink(missing_ok=True)
        raise
