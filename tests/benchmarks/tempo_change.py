"""How soon a change of tempo is heard after the call, at any look-ahead, and what it costs.

Run as `python -m tests.benchmarks.tempo_change [--changes 60] [--periods 768 1024]`; the live part needs pulseaudio.

Bound (issue on playback): heard within 60 ms of the call. On a clock turned by hand the figure is exact: frames from
the call to the cut, at which the new tempo begins. Live, on PulseAudio's null sink with a thread at work,
it is the time the call takes, the frames from there to the cut, and the frames that the driver says it keeps waiting
to be heard. The peer is the look-ahead itself: what would be heard if nothing were withdrawn."""

import argparse
import statistics
import tempfile
import time
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from random import Random

from tests.playback.changing import change, kept_going
from tests.playback.recording_sink import RecordingSink
from tests.playback.riffs import band, exercise
from tests.sound_servers import ServerMissingError, pulse_server
from trainer.places import bundled
from trainer.playback.audio_out import Device
from trainer.playback.event import Kind
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys
from trainer.playback.synth_sink import SynthSink
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

BOUND_MS = 60
AHEADS = (Fraction(1, 20), Fraction(1, 4), Fraction(1), Fraction(5))
BANK = bundled("patches") / "twinspur.sf2"


def by_hand(timeline: Timeline, ahead: Fraction, changes: int) -> tuple[float, float]:
    """The longest time from a call to its cut, and how far the notes then stray from the new tempo, in ms."""
    sink, chance = RecordingSink(min_ahead=1088), Random(1)
    transport = Transport(timeline, sink, Plan(timeline.piece.whole, passes=None), ahead_seconds=ahead)
    transport.play()
    longest, stray = 0.0, 0.0
    for _ in range(changes):
        end = sink.now() + chance.randrange(20_000, 60_000)
        while sink.now() < end:
            transport.advance()
            sink.run_to(min(end, sink.now() + 960))
        share = Fraction(chance.randrange(40, 150), 100)
        called, begun = sink.now(), len(sink.of(Kind.NOTE_ON))
        before = transport.position()
        change(transport, share=share)
        cut = called + sink.min_ahead
        end = called + 24_000
        while sink.now() < end:
            transport.advance()
            sink.run_to(min(end, sink.now() + 960))
        longest = max(longest, (cut - called) / 48)
        found = sorted({event.frame for event in sink.of(Kind.NOTE_ON)[begun:] if event.frame >= cut})
        sixteenth = float(timeline.curve.slowness(Fraction(0)) / 16 * 48000 / share)
        for a, b in pairwise(found):
            stray = max(stray, abs((b - a) / sixteenth - round((b - a) / sixteenth)) * sixteenth / 48)
        assert before.bar <= transport.position().bar or transport.position().pass_number > before.pass_number
    return longest, stray


def live(timeline: Timeline, changes: int, period: int | None) -> None:
    """Measure on a real server, and print."""
    chance = Random(2)
    with tempfile.TemporaryDirectory() as folder, pulse_server(Path(folder)):
        sink = SynthSink(BANK, Device("pulseaudio", period=period), click=click_keys(timeline))
        transport = Transport(timeline, sink, Plan(timeline.piece.whole, passes=None))
        heard, calls = [], []
        with kept_going(transport):
            transport.play()
            time.sleep(0.5)
            for _ in range(changes):
                time.sleep(chance.uniform(0.05, 0.25))
                called, clock = sink.now(), time.perf_counter()
                change(transport, share=Fraction(chance.randrange(40, 150), 100))
                calls.append(1000 * (time.perf_counter() - clock))
                heard.append(1000 * (sink.min_ahead + max(0, sink.now() - called) + sink.latency) / sink.rate)
            late = sink.late
            transport.stop()
            time.sleep(0.1)
        sink.close()
    most = max(heard)
    name = f"live, period {sink.period}, {changes} changes"
    print(f"{name:<44}{BOUND_MS:>7} {statistics.median(heard):>8.1f} {most:>8.1f} {most / BOUND_MS:>7.2f}")
    print(f"{'  the call itself':<44}{'':>7} {statistics.median(calls):>8.2f} {max(calls):>8.2f}")
    print(f"  events that came after their time: {late}")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--changes", type=int, default=60)
    parser.add_argument(
        "--periods", type=int, nargs="+", default=[None, 1024], help="of the live sink; first its usual"
    )
    arguments = parser.parse_args()
    music = band(8, 173)
    timeline = Timeline.of(Piece.of(exercise(music), [music]), load_patches())
    print(f"{'in milliseconds':<44}{'bound':>7} {'median':>8} {'most':>8} {'ratio':>7}")
    for ahead in AHEADS:
        longest, stray = by_hand(timeline, ahead, arguments.changes)
        name = f"call to cut, look-ahead {1000 * float(ahead):.0f} ms"
        print(
            f"{name:<44}{BOUND_MS:>7} {longest:>8.1f} {longest:>8.1f} {longest / BOUND_MS:>7.2f}"
            f"   of the peer {longest / (22.7 + 1000 * float(ahead)):.2f}, stray of the new tempo {stray:.3f}"
        )
    try:
        for period in arguments.periods:
            live(timeline, arguments.changes, period)
    except ServerMissingError as missing:
        print(f"live: not measured ({missing})")


if __name__ == "__main__":
    main()
