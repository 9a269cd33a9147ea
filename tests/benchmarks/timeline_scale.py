"""How long it takes to compile an exercise of 2,000 bars and four parts, and to make the events of a whole pass.

Bound (issue on playback): the timeline of 2,000 bars in 0.5 s. The peer is reading the same file, measured in the
same run; medians of several runs. Run: `python -m tests.benchmarks.timeline_scale`."""

import gc
import statistics
import time
from collections.abc import Callable
from fractions import Fraction

from tests.benchmarks.made import long_exercise
from trainer.notation.read import read
from trainer.playback.frame_map import FrameMap
from trainer.playback.piece import Piece
from trainer.playback.timeline import Timeline
from trainer.playback.tone_events import ToneEvents
from trainer.sounds.load_patches import load_patches

BARS = 2000
BOUND = 0.5
RUNS = 5


def seconds(work: Callable[[], object]) -> float:
    """The median time of several runs."""
    times = []
    for _ in range(RUNS):
        gc.collect()
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def main() -> None:
    """Measure and print."""
    rig = load_patches()
    text = long_exercise(BARS)
    exercise = read(text)
    piece = Piece.of(exercise, exercise.riffs)
    timeline = Timeline.of(piece, rig)

    def whole_pass() -> int:
        performance = ToneEvents(timeline, 48000)
        frames = FrameMap(timeline.curve, 48000, Fraction(3, 5), Fraction(0), Fraction(0))
        end = timeline.bar_steps[-1]
        return sum(len(performance.begin(tone, frames, 1, end, 0)) for tone in timeline.tones)

    reading = seconds(lambda: read(text))
    compiling = seconds(lambda: Timeline.of(Piece.of(exercise, exercise.riffs), rig))
    playing = seconds(whole_pass)
    print(f"{BARS} bars, {len(piece.part_names)} parts, {len(timeline.tones)} tones, {whole_pass()} events in a pass")
    print(f"{'':<28}{'bound':>8}{'median':>9}{'of reading':>12}")
    print(f"{'compile the timeline':<28}{BOUND:>7.2f}s{compiling:>8.3f}s{compiling / reading:>11.2f}x")
    print(f"{'make one pass of events':<28}{'':>8}{playing:>8.3f}s{playing / reading:>11.2f}x")
    print(f"{'read the file (peer)':<28}{'1.50s':>8}{reading:>8.3f}s{1:>11.2f}x")


if __name__ == "__main__":
    main()
