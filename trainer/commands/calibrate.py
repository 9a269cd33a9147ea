"""`twinspur calibrate`: how long sound takes from the output back to the input, so that early and late are known."""

import argparse
import time
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from trainer.commands.line import DONE, MACHINE_LACKS, CallError, MachineError
from trainer.commands.own_machine import machine
from trainer.commands.record import now
from trainer.commands.terminal import complain, say, say_json, table
from trainer.music.problem import Problem, ProblemsError
from trainer.places import round_trips_file

if TYPE_CHECKING:
    from trainer.commands.sound_card import Card
    from trainer.listening.calibration import Opening, RoundTrip
    from trainer.settings import Settings

CONNECT = (
    "Connect the output to the input: a cable from a line or headphone output to the input the guitar uses, or the "
    "microphone held to the headphones. Turn the level down first: sweeps and clicks are played for a minute or two, "
    "while the devices are opened again and again."
)
PAUSE_SECONDS = 0.02
WAYS = {"": "twinspur listen", "stand": "the stand"}
"""What each way is called."""


def options(parser: argparse.ArgumentParser) -> None:
    """The devices to measure, or what to do with earlier measurements."""
    parser.add_argument("--device", metavar="NAME", help="the input, by its name or a part of it")
    parser.add_argument("--output", metavar="NAME", help="the output, by its name or a part of it")
    parser.add_argument(
        "--way", choices=("both", "listen", "stand"), default="both",
        help="measure for twinspur listen, which plays and records in one stream, for the stand, or for both (default)",
    )  # fmt: skip
    parser.add_argument("--list", action="store_true", help="list what was measured so far")
    parser.add_argument("--forget", action="store_true", help="forget what was measured with these devices")
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Measure, list or forget."""
    from trainer.commands.sound_card import find_card, quiet_descriptor, refuse_wireless
    from trainer.listening.calibration import STAND

    if arguments.list:
        return _list(arguments.json)
    settings = machine().settings()
    output = settings.output if arguments.output is None else arguments.output
    source = settings.device if arguments.device is None else arguments.device
    if arguments.forget:
        return _forget(output, source)
    settings = replace(settings, output=output, device=source)
    found: list[RoundTrip] = []
    problems: list[ProblemsError | MachineError] = []
    with quiet_descriptor():
        card = find_card(output, source)
        refuse_wireless(card)
        if not arguments.json:
            say(CONNECT)
        for way, measured in (("listen", _listens_way), ("stand", _stands_way)):
            if arguments.way not in {way, "both"}:
                continue
            if not arguments.json:
                say(f"Measuring for {WAYS[STAND if way == STAND else '']}.")
            try:
                trip = measured(card, settings)
                _store(trip)
            except (ProblemsError, MachineError) as error:
                problems.append(error)
                continue
            found.append(trip)
            if not arguments.json:
                _tell(trip)
    if arguments.json:
        say_json([asdict(trip) for trip in found])
    if len(problems) > 1 or (problems and not found):
        raise problems[0]
    if problems:
        complain(f"twinspur: {problems[0]}")
        return MACHINE_LACKS
    return DONE


def _tell(trip: "RoundTrip") -> None:
    """What was found, and how sure it is."""
    say(f"  {trip.output} to {trip.input}: {trip.milliseconds:.1f} ms, known to within {trip.spread_ms:.1f} ms.")
    between = f"{trip.openings} openings of the devices lie within {trip.between_ms:.1f} ms of their median"
    say(f"  {between}; in one opening the markers lie within {trip.within_ms:.1f} ms.")
    if trip.spread_ms >= 1:
        say("  The openings differ by more than a millisecond: less than that is not told of early or late.")


def _listens_way(card: "Card", settings: "Settings") -> "RoundTrip":
    """Measure as `listen` plays and records: in one stream."""
    from trainer.commands.sound_card import USUAL_RATE, wake
    from trainer.listening.calibration import RoundTrip, measure

    rate = settings.rate or USUAL_RATE
    wake(card, rate)
    opening = _Opening(card, rate)
    named = RoundTrip(card.real_output, card.real_source, rate, 0.0, 0.0, now().date().isoformat())
    return measure(opening.play, named)


def _stands_way(_card: "Card", settings: "Settings") -> "RoundTrip":
    """Measure as the stand plays and records: the synth on its own driver, the input beside it."""
    from trainer.commands.stand_round_trip import measure_stand
    from trainer.playback.drivers import NoSoundError
    from trainer.playback.fluid import LibraryMissingError, SynthError

    try:
        return measure_stand(settings, machine().rig, now().date().isoformat())
    except (NoSoundError, LibraryMissingError, SynthError) as error:
        raise MachineError(str(error)) from None


class _Opening:
    """One opening of the stream after another, each for one run of markers."""

    def __init__(self, card: "Card", rate: int) -> None:
        from trainer.listening.calibration import trial_signal

        self._card, self._rate = card, rate
        self._signal, _ = trial_signal(rate)

    def play(self) -> "Opening":
        """Play the markers and find them in what came back. Raises ProblemsError."""
        from trainer.commands.sound_card import stereo
        from trainer.listening.calibration import Opening, delays
        from trainer.listening.duplex import Duplex
        from trainer.session.duplex_card import close_stream, inputs_of
        from trainer.session.inputs import INPUTS

        rate = self._rate
        card = self._card
        inputs = min(INPUTS, inputs_of(card.source))
        stream = Duplex(iter([stereo(self._signal)]), rate, output=card.output, source=card.source, channels=inputs)
        try:
            stream.begin()
            while not stream.all_played:
                if stream.vanished:
                    what = "The sound card stopped while it was measured"
                    raise ProblemsError([Problem("", 0, 0, what, hint="Connect it again, and start again")])
                time.sleep(PAUSE_SECONDS)
            came = [tuple(delays(sound.samples, rate)) for sound in stream.heard(0, len(self._signal))]
            return Opening(max(came, key=len), stream.told_ms)
        finally:
            close_stream(stream)


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
    rows = [("for", "output", "input", "rate", "round trip", "within", "measured")]
    for trip in trips:
        figures = (f"{trip.rate} Hz", f"{trip.milliseconds:.1f} ms", f"{trip.spread_ms:.1f} ms")
        output = f"{trip.output} ({trip.driver}, {trip.period} frames)" if trip.driver else trip.output
        rows.append((WAYS.get(trip.way, trip.way), output, trip.input, *figures, trip.measured))
    for line in table(rows, right=frozenset({3, 4, 5})):
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
