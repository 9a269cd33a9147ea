"""`twinspur calibrate`: how long sound takes from the output back to the input, so that early and late are known."""

import argparse
import time
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from trainer.commands.line import DONE, CallError
from trainer.commands.record import now
from trainer.commands.terminal import say, say_json, table
from trainer.music.problem import Problem, ProblemsError
from trainer.places import round_trips_file
from trainer.settings import load_settings

if TYPE_CHECKING:
    from trainer.commands.sound_card import Card
    from trainer.listening.calibration import RoundTrip
    from trainer.listening.sound import Samples

OPENINGS, AGREE = 6, 3
"""The device is opened anew up to so many times, until so many openings agree."""
MOST_APART_MS = 3.0
"""How far openings that agree may lie apart: half of what is just noticed (house rule)."""
CONNECT = (
    "Connect the output to the input: a cable from a line or headphone output to the input the guitar uses, or the "
    "microphone held to the headphones. Turn the level down first: a sweep is played, several times, for half a minute."
)
PAUSE_SECONDS = 0.02


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    parser.add_argument("--device", metavar="NAME", help="the input, by its name or a part of it")
    parser.add_argument("--output", metavar="NAME", help="the output, by its name or a part of it")
    parser.add_argument("--list", action="store_true", help="list what was measured so far")
    parser.add_argument("--forget", action="store_true", help="forget what was measured with these devices")
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Measure, list or forget."""
    from trainer.commands.sound_card import find_card, quiet_descriptor

    if arguments.list:
        return _list(arguments.json)
    settings = load_settings()
    output = settings.output if arguments.output is None else arguments.output
    source = settings.device if arguments.device is None else arguments.device
    if arguments.forget:
        return _forget(output, source)
    with quiet_descriptor():
        card = find_card(output, source)
        if not arguments.json:
            say(CONNECT)
            say(f"Output: {card.output}. Input: {card.source}.")
        trip = _measured(card, settings.rate)
    _store(trip)
    if arguments.json:
        say_json(asdict(trip))
    else:
        say(f"Round trip: {trip.milliseconds:.1f} ms, within {trip.spread_ms:.1f} ms; kept for these two devices.")
    return DONE


def _measured(card: "Card", rate: int | None) -> "RoundTrip":
    """Open the device until enough openings agree.

    What the device tells of its own round trip moves with each opening, and rightly so; what it tells wrongly stays.
    So the openings are compared after that.
    """
    from trainer.commands.sound_card import USUAL_RATE, refuse_wireless, wake
    from trainer.listening.calibration import measure

    rate = rate or USUAL_RATE
    refuse_wireless(card)
    wake(card, rate)
    trips: list[RoundTrip] = []
    trouble: ProblemsError | None = None
    for _ in range(OPENINGS):
        opening = _Opening(card, rate)
        try:
            trip = measure(opening.play, rate, card.output, card.source, now().date().isoformat())
        except ProblemsError as error:
            if not opening.markers:
                raise
            trouble = error
            continue
        trips.append(replace(trip, told_ms=opening.told_ms))
        agreeing = _agreeing(trips)
        if agreeing:
            return agreeing
    if trouble is not None:
        raise trouble
    off = [trip.milliseconds - trip.told_ms for trip in trips]
    what = f"The delay differs by {max(off) - min(off):.1f} ms from one opening of the device to the next"
    hint = "Close other programs that play or record, and try again"
    raise ProblemsError([Problem("", 0, 0, what, hint=hint)])


def _agreeing(trips: "list[RoundTrip]") -> "RoundTrip | None":
    """One round trip for the openings that agree, where there are enough."""
    off = sorted((trip.milliseconds - trip.told_ms, number) for number, trip in enumerate(trips))
    for k in range(len(off) - AGREE + 1):
        group = off[k : k + AGREE]
        if group[-1][0] - group[0][0] <= MOST_APART_MS:
            middle = trips[group[AGREE // 2][1]]
            within = max(group[-1][0] - group[0][0], *(trips[number].spread_ms for _, number in group))
            return replace(middle, spread_ms=round(within, 3))
    return None


class _Opening:
    """One opening of the device after another, each for one trial."""

    def __init__(self, card: "Card", rate: int) -> None:
        self.card, self.rate, self.told_ms = card, rate, 0.0
        self.markers = 0

    def play(self, samples: "Samples") -> "Samples":
        """Play samples and return what came back from the same frame on. Raises ProblemsError."""
        from trainer.commands.sound_card import close, stereo
        from trainer.listening.calibration import delays
        from trainer.listening.duplex import Duplex

        stream = Duplex(iter([stereo(samples)]), self.rate, output=self.card.output, source=self.card.source)
        try:
            stream.begin()
            while not stream.all_played:
                if stream.vanished:
                    what = "The sound card stopped while it was measured"
                    raise ProblemsError([Problem("", 0, 0, what, hint="Connect it again, and start again")])
                time.sleep(PAUSE_SECONDS)
            self.told_ms = stream.told_ms
            came = stream.heard(0, len(samples))[0].samples
            self.markers = max(self.markers, len(delays(came, self.rate)))
            return came
        finally:
            close(stream)


def _store(trip: "RoundTrip") -> None:
    from trainer.listening.calibration import store

    path = round_trips_file()
    try:
        store(path, trip)
    except OSError as error:
        what = f"the round trip ({trip.milliseconds:.1f} ms) cannot be kept: {error.strerror}"
        raise ProblemsError([Problem(str(path), 0, 0, what, "", "Make room, or make the folder writable")]) from None


def _list(as_json: bool) -> int:
    from trainer.listening.calibration import read_round_trips

    trips = read_round_trips(round_trips_file())
    if as_json:
        say_json([asdict(trip) for trip in trips])
        return DONE
    if not trips:
        say("No sound card is calibrated yet: early or late as a whole is not known until twinspur calibrate.")
        return DONE
    rows = [("output", "input", "rate", "round trip", "within", "measured")]
    for trip in trips:
        figures = (f"{trip.rate} Hz", f"{trip.milliseconds:.1f} ms", f"{trip.spread_ms:.1f} ms")
        rows.append((trip.output, trip.input, *figures, trip.measured))
    for line in table(rows, right=frozenset({2, 3, 4})):
        say(line)
    return DONE


def _forget(output: str, source: str) -> int:
    """Forget the round trips of devices whose names hold these words; of all where none are given."""
    from trainer.listening.calibration import keep_only, read_round_trips

    path = round_trips_file()
    trips = read_round_trips(path)
    kept = tuple(
        trip
        for trip in trips
        if output.casefold() not in trip.output.casefold() or source.casefold() not in trip.input.casefold()
    )
    gone = len(trips) - len(kept)
    if not gone:
        raise CallError("Nothing is kept of such devices. See twinspur calibrate --list.")
    keep_only(path, kept)
    say(f"{gone} round trip{'s' if gone > 1 else ''} forgotten.")
    return DONE
