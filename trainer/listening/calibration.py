"""The round trip of a sound card: how long from playing a sample to hearing it come back.

A marker is played and recorded several times over a loop: a cable from output to input, or a microphone at the
headphones. It is found by correlation to a fraction of a sample. The devices are opened anew several times, since one
opening of a sound server differs from the next; how far the openings lie apart is kept as the uncertainty. What a
device says of its own latency can be wrong by a factor of two, and wanders by 20 ms while the delay stays (measured,
PulseAudio): it only tells whether an opening is like the others at all. Results are kept by the devices' names, and
by the way: `listen` plays and records in one stream, the stand plays on the synth's own driver.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median

import numpy as np

from trainer.listening.sound import Floats, Samples
from trainer.music.problem import Problem, ProblemsError
from trainer.values import NotUnderstoodError, plain, read_json

MARKER_S, GAP_S, LEAD_S = 0.08, 0.45, 0.3
MARKERS = 6
LOW_HZ, HIGH_HZ = 400.0, 6_000.0
CLEAR = 0.4
"""Correlation with the marker, of 1, from which it was surely heard."""
MOST_SPREAD_MS = 1.0
"""Within an opening; in one of more, the server dropped something out."""
ENOUGH, MOST_OPENINGS, LEAST_OPENINGS = 5, 12, 3
"""Openings go on until so many lie within `MOST_SPREAD_MS` of their median; at the latest until so many were made."""
MOST_APART_MS = 6.0
"""How far openings may lie from their median at all: what is just noticed."""
LIKE_MS = 6.0
"""How far what the device tells may differ between openings that are alike: it wanders by some ms itself."""
LONGEST_S = GAP_S
WIRELESS = ("bluez", "bluetooth", "a2dp", "hfp", "hands-free", "handsfree", "wireless", "le audio")
"""Words in the names of devices whose delay wanders too much to judge by."""
STAND = "stand"
"""The way of the stand; that of `listen` has no name."""


@dataclass(frozen=True, slots=True)
class Opening:
    """What one opening of the devices gave."""

    delays_s: tuple[float, ...]
    """Of each marker that was heard."""
    told_ms: float = 0.0
    """What the device told of its round trip; 0 where it is not asked."""


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
    """How far it is uncertain: the farthest of the openings from their median, or of the markers in one opening."""
    measured: str = ""
    """The day, as YYYY-MM-DD."""
    told_ms: float = 0.0
    """What the device itself told of its round trip meanwhile; 0 where that was not asked."""
    way: str = ""
    """`STAND`, or empty for that of `listen`."""
    driver: str = ""
    """Of the stand: the synth's audio driver."""
    period: int = 0
    """Of the stand: frames in the driver's period."""
    openings: int = 1
    """So many openings of the devices agree on it."""
    within_ms: float = 0.0
    """The widest spread of the markers in one opening."""
    between_ms: float = 0.0
    """The farthest opening from the median of all."""

    @property
    def key(self) -> tuple[object, ...]:
        """What it is kept under."""
        return (self.way, self.output, self.input, self.rate, self.driver, self.period)

    def holds(self, told_ms: float) -> bool:
        """Whether it is that of another opening, too, in which the device tells `told_ms`."""
        return not (self.told_ms and told_ms) or abs(told_ms - self.told_ms) <= LIKE_MS


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
    """The delay of each marker of `trial_signal` that was heard, in seconds."""
    _, starts = trial_signal(rate)
    wanted = marker(rate).astype(float)
    found = []
    for start in starts:
        first = round(start * rate)
        lag = found_at(recorded[first : first + round((MARKER_S + LONGEST_S) * rate)], wanted)
        if lag is not None:
            found.append(lag / rate)
    return found


def found_at(window: Samples, wanted: Floats) -> float | None:
    """At which frame of a window a sound begins, to a fraction of a frame; None where it is not surely there."""
    if len(window) <= len(wanted) + 2:
        return None
    score = _normalised(window.astype(float), wanted)
    best = int(np.argmax(score))
    if score[best] < CLEAR or not 0 < best < len(score) - 1:
        return None
    before, here, after = score[best - 1 : best + 2]
    bend = before - 2 * here + after
    return best + (0.5 * float((before - after) / bend) if bend < 0 else 0.0)


def _normalised(window: Floats, wanted: Floats) -> Floats:
    """Correlation of a window with the marker at every lag, from -1 to 1 times sign of neither: its magnitude."""
    size = 1 << (len(window) + len(wanted)).bit_length()
    product = np.fft.irfft(np.fft.rfft(window, size) * np.conj(np.fft.rfft(wanted, size)), size)
    product = product[: len(window) - len(wanted) + 1]
    energy = np.concatenate([[0.0], np.cumsum(window**2)])
    local = energy[len(wanted) :] - energy[: -len(wanted)]
    return np.asarray(np.abs(product) / np.sqrt(np.maximum(local, 1e-9) * (wanted @ wanted)))


def measure(opened: Callable[[], Opening], trip: RoundTrip) -> RoundTrip:
    """Measure a round trip over several openings of the devices.

    Args:
        opened: opens the devices, plays `MARKERS` markers, and closes them.
        trip: whose names, rate and way are meant.

    Raises:
        ProblemsError: for a Bluetooth device, when no marker comes back, or the delay wanders.
    """
    for name in (trip.output, trip.input):
        if is_wireless(name):
            raise ProblemsError([wireless_problem(name)])
    steady: list[tuple[float, float, float]] = []
    heard, wandering = 0, 0.0
    for number in range(MOST_OPENINGS):
        opening = opened()
        found = opening.delays_s
        heard = max(heard, len(found))
        if len(found) < MARKERS - 1:
            if number > 0 and not steady and heard < MARKERS - 1:
                break
            continue
        middle = median(found)
        within = max(abs(delay - middle) for delay in found) * 1000
        if within >= MOST_SPREAD_MS:
            wandering = max(wandering, within)
            continue
        steady.append((middle * 1000, within, opening.told_ms))
        alike = _alike(steady)
        if len(alike) >= ENOUGH and _apart(alike) < MOST_SPREAD_MS:
            break
    if heard < MARKERS - 1:
        what = f"Only {heard} of {MARKERS} markers came back" if heard else "No marker came back"
        hint = "Connect the output to the input by a cable, or hold the microphone to the headphones, and turn it up"
        raise ProblemsError([Problem("", 0, 0, what, hint=hint)])
    alike = _alike(steady)
    apart = _apart(alike)
    if len(alike) < LEAST_OPENINGS or apart > MOST_APART_MS:
        if len(alike) < LEAST_OPENINGS:
            what = f"The delay wanders by {wandering or apart:.1f} ms from marker to marker"
        else:
            what = f"The delay differs by {apart:.1f} ms from one opening of the device to the next"
        hint = "Ask for larger periods in the sound settings, close other programs, and try again"
        raise ProblemsError([Problem("", 0, 0, what, hint=hint)])
    within = max(each[1] for each in alike)
    return replace(
        trip,
        milliseconds=round(median(each[0] for each in alike), 3),
        spread_ms=round(max(within, apart), 3),
        told_ms=round(median(each[2] for each in alike), 3),
        openings=len(alike), within_ms=round(within, 3), between_ms=round(apart, 3),
    )  # fmt: skip


def _alike(openings: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """The openings of which the device tells about the same: another one is noticed when it listens, too."""
    usual = median(each[2] for each in openings) if openings else 0.0
    return [each for each in openings if abs(each[2] - usual) <= LIKE_MS]


def _apart(openings: list[tuple[float, float, float]]) -> float:
    """How far the farthest opening lies from the median, in milliseconds."""
    middle = median(each[0] for each in openings) if openings else 0.0
    return max((abs(each[0] - middle) for each in openings), default=0.0)


def wireless_problem(name: str) -> Problem:
    """What to say of a device that is connected by Bluetooth."""
    what = f"“{name}” is connected by Bluetooth, whose delay wanders too much to judge timing by"
    return Problem("", 0, 0, what, hint="Use a wired output and input, or MIDI")


def read_round_trips(path: Path) -> tuple[RoundTrip, ...]:
    """Every stored round trip; none where the file is missing or damaged."""
    try:
        return read_json(tuple[RoundTrip, ...], path.read_bytes())
    except (OSError, NotUnderstoodError):
        return ()


def stored(path: Path, output: str, input_name: str, rate: int | None = None) -> RoundTrip | None:
    """The round trip of two devices by name, as `listen` uses them, at the rate if one was measured at it."""
    mine = [trip for trip in read_round_trips(path) if (trip.way, trip.output, trip.input) == ("", output, input_name)]
    return next((trip for trip in mine if trip.rate == rate), mine[-1] if mine else None)


def stored_for(path: Path, wanted: RoundTrip) -> RoundTrip | None:
    """The round trip of these devices, this way, driver, period and rate."""
    return next((trip for trip in read_round_trips(path) if trip.key == wanted.key), None)


def store(path: Path, trip: RoundTrip) -> None:
    """Keep a round trip, in place of an earlier one of the same devices, rate and way."""
    keep_only(path, (*(old for old in read_round_trips(path) if old.key != trip.key), trip))


def keep_only(path: Path, trips: tuple[RoundTrip, ...]) -> None:
    """Keep these round trips and no others. Raises OSError; the old file stays then."""
    path.parent.mkdir(parents=True, exist_ok=True)
    new = path.with_suffix(".new")
    try:
        new.write_text(json.dumps(plain(trips), indent=1), "utf-8")
        new.replace(path)
    except OSError:
        new.unlink(missing_ok=True)
        raise
