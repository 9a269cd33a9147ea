"""How exactly a click train sounds through the live sink, from PulseAudio's null sink back to a file.

Run as `python -m tests.benchmarks.live_timing [--seconds 60] [--bpm 173 175] [--periods 512 768 1024]`;
needs pulseaudio and parec. A steady tone beside the clicks shows the server's own gaps; timing is judged between them,
as |deviation - median| in frames of 48 kHz, and they are counted apart, as the sink counts them by its clock. The peer
in the same run is a Python thread that starts the same notes by hand when the wall clock says so. A bound is met when
its ratio is at most 1.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.click_train import play_click_train, read_recording
from tests.onsets import Timing, measure
from tests.playback.tiny_bank import CLICK, KEY, TONE, TONE_PERIOD, write_tiny_bank
from tests.sound_servers import Pulse, pulse_server
from trainer.playback.audio_out import Device, open_audio
from trainer.playback.fluid import BLOCK
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_sink import SynthSink

BOUND = BLOCK
USUAL_PERIOD = 768


def by_sink(pulse: Pulse, bank: Path, folder: Path, period: int, bpm: float, clicks: int) -> tuple[Timing, SynthSink]:
    """Play the train on the live sink."""
    recording = folder / "recording"
    with pulse.recording(recording):
        sink = SynthSink(bank, Device("pulseaudio", period=period), SynthOptions(reverb=False, chorus=False))
        wanted = play_click_train(sink, bpm, clicks)
        sink.close()
    return measure(read_recording(recording), wanted, TONE_PERIOD), sink


def by_hand(pulse: Pulse, bank: Path, folder: Path, bpm: float, clicks: int) -> Timing:
    """Play the train as a thread does that sleeps until each note and starts it."""
    recording = folder / "recording"
    with pulse.recording(recording):
        out = open_audio(bank, SynthOptions(reverb=False, chorus=False), Device("pulseaudio", period=USUAL_PERIOD))
        for channel, program in ((0, CLICK), (1, TONE)):
            out.synth.program(channel, 0, program)
        out.synth.note_on(1, KEY, 127)
        start = time.monotonic() + 0.5
        for number in range(clicks):
            time.sleep(max(0.0, start + number * 60 / bpm - time.monotonic()))
            out.synth.note_on(0, KEY, 127)
        time.sleep(0.5)
        out.synth.sounds_off()
        out.close()
    wanted = np.array([round(number * 60 * 48000 / bpm) for number in range(clicks)])
    return measure(read_recording(recording), wanted, TONE_PERIOD)


def report(name: str, timing: Timing, peer: Timing, counted: str, late: str) -> None:
    p99, worst = float(np.percentile(timing.every, 99)), timing.worst
    print(
        f"{name:22} {p99:8.1f} {worst:8.1f} {worst / 48:8.2f} {worst / BOUND:8.2f} {worst / peer.worst:8.3f} "
        f"{timing.gaps:6} {timing.lost / 48:9.1f} {counted:>8} {late:>5}",
        flush=True,
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--bpm", type=float, nargs="+", default=[173, 175])
    parser.add_argument("--periods", type=int, nargs="+", default=[512, 768, 1024])
    arguments = parser.parse_args()
    met = True
    with tempfile.TemporaryDirectory() as name, pulse_server(Path(name)) as pulse:
        folder = Path(name)
        bank = write_tiny_bank(folder / "tiny.sf2")
        heads = ("p99", "max", "max ms", "/ bound", "/ hand")
        print(
            f"{'':22} {' '.join(f'{head:>8}' for head in heads)} {'gaps':>6} {'gap ms':>9} {'by clock':>8} {'late':>5}"
        )
        for bpm in arguments.bpm:
            clicks = max(4, int(arguments.seconds * bpm / 60))
            peer = by_hand(pulse, bank, folder, bpm, clicks)
            report(f"by hand, {bpm:g} bpm", peer, peer, "-", "-")
            for period in arguments.periods:
                timing, sink = by_sink(pulse, bank, folder, period, bpm, clicks)
                report(f"period {period}, {bpm:g} bpm", timing, peer, str(sink.dropouts), str(sink.late))
                met = met and timing.worst <= BOUND
    print("bound met" if met else "bound NOT met")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
