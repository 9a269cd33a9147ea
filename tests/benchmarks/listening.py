"""The listening room against takes with known truth, beside general onset detectors on the same takes.

`TWINSPUR_TAKES=FOLDER python -m tests.benchmarks.listening [--quick]`

The folder holds takes with known truth (`tests/listening/truth.py`); without it only what the tests generate is
measured. The peers are librosa and aubio, looked for in this Python or in the one that `TWINSPUR_PEERS` names.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy as np
import soundfile

from tests.benchmarks.listening_bounds import against_bounds
from tests.listening.plucked import gallop, player, record
from tests.listening.test_midi_matching import TICK, Performer, faults, part
from tests.listening.truth import Agreement, TrueTake, onset_agreement, precision, recall, true_takes
from trainer.listening.bands import Bands
from trainer.listening.hearing import hear
from trainer.listening.midi_matching import match_midi
from trainer.listening.midi_take import MidiTake
from trainer.listening.performance import performed
from trainer.listening.sound import Sound
from trainer.listening.timing import timing

PEERS = """
import json, sys
found = {}
names = json.load(sys.stdin)
try:
    import librosa
    found["librosa"] = {}
    for name in names:
        y, sr = librosa.load(name, sr=None)
        found["librosa"][name] = [float(t) for t in librosa.onset.onset_detect(y=y, sr=sr, units="time")]
except ImportError:
    pass
try:
    import aubio, soundfile
    import numpy as np
    found["aubio"] = {}
    for name in names:
        y, sr = soundfile.read(name, dtype="float32")
        hop, out = 256, []
        onset = aubio.onset("default", 1024, hop, sr)
        for k in range(0, len(y) - hop, hop):
            if onset(np.ascontiguousarray(y[k:k + hop])):
                out.append(float(onset.get_last_s()))
        found["aubio"][name] = out
except ImportError:
    pass
json.dump(found, sys.stdout)
"""


def row(name: str, result: Agreement) -> str:
    errors = np.array(result.errors_ms or [0.0])
    shares = "  ".join(f"F@{within} {result.f_measure(within):.3f}" for within in (50, 25, 10))
    return (
        f"{name:<30} {shares}  "
        f"median {np.median(errors):5.2f} ms  95 % {np.percentile(errors, 95):5.1f} ms  "
        f"bias {max(map(abs, result.biases_ms), default=0.0):5.1f} ms"
    )


def notes_row(result: Agreement) -> str:
    ghosts = f"noises reported {result.ghosts[1]} of {result.ghosts[0]}"
    told = "   ".join(
        f"{name} P {precision(counts):.3f} R {recall(counts):.3f} ({counts[0]})"
        for name, counts in (("missed", result.missed), ("wrong", result.wrong), ("extra", result.extra))
    )
    return f"{'':<30} {told}   {ghosts}"


def measured(takes: list[TrueTake], change: Callable[[TrueTake], tuple[Sound, float]] | None = None) -> Agreement:
    """Our figures over some takes, each changed first; a change gives the sound and by how much it shifted time."""
    total = Agreement()
    for take in takes:
        sound, shift = change(take) if change else (take.sound, 0.0)
        shifted = tuple(
            {**note, "onset": None if note["onset"] is None else note["onset"] + shift} for note in take.notes
        )
        moved = replace(take, notes=shifted, ghosts=tuple(at + shift for at in take.ghosts))
        total.add(moved, hear(sound, take.written))
    return total


def resampled(sound: Sound, rate: int) -> Sound:
    """The whole sound at another rate, exactly, through its spectrum."""
    count = round(len(sound.samples) * rate / sound.rate)
    spectrum = np.fft.rfft(sound.samples.astype(float))
    wide = np.zeros(count // 2 + 1, complex)
    kept = min(len(spectrum), len(wide))
    wide[:kept] = spectrum[:kept]
    return Sound((np.fft.irfft(wide, count) * count / len(sound.samples)).astype(np.float32), rate)


def moved(take: TrueTake, seconds: float) -> tuple[Sound, float]:
    """The take beginning later, or cut at its beginning."""
    frames = round(seconds * take.sound.rate)
    samples = take.sound.samples
    quiet = np.random.default_rng(1).normal(0, 1e-4, max(frames, 0)).astype(np.float32)
    out = np.concatenate([quiet, samples]) if frames > 0 else samples[-frames:]
    return Sound(out, take.sound.rate), frames / take.sound.rate


def driven(take: TrueTake) -> tuple[Sound, float]:
    samples = take.sound.samples / (np.abs(take.sound.samples).max() + 1e-9)
    return Sound((0.3 * np.tanh(6 * samples)).astype(np.float32), take.sound.rate), 0.0


def stereo(take: TrueTake) -> tuple[Sound, float]:
    from trainer.listening.read_sound import read_sound

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        both = np.stack([take.sound.samples, 0.9 * take.sound.samples], axis=1)
        soundfile.write(path, both, take.sound.rate, subtype="FLOAT")
        (sound,) = read_sound(path)
    return sound, 0.0


CHANGES: dict[str, Callable[[TrueTake], tuple[Sound, float]]] = {
    "500 ms later": lambda take: moved(take, 0.5),
    "500 ms earlier": lambda take: moved(take, -0.5),
    "20 dB louder (float)": lambda take: (Sound(take.sound.samples * np.float32(10), take.sound.rate), 0.0),
    "20 dB softer": lambda take: (Sound(take.sound.samples * np.float32(0.1), take.sound.rate), 0.0),
    "44.1 kHz": lambda take: (resampled(take.sound, 44_100), 0.0),
    "96 kHz": lambda take: (resampled(take.sound, 96_000), 0.0),
    "stereo": stereo,
    "more drive": driven,
}


def peers(folder: Path, takes: list[TrueTake]) -> None:
    """The general detectors' figures on the same takes."""
    names = [str(folder / f"{take.name}.flac") for take in takes]
    python = os.environ.get("TWINSPUR_PEERS", sys.executable)
    done = subprocess.run([python, "-c", PEERS], input=json.dumps(names), capture_output=True, text=True, check=False)
    try:
        found = json.loads(done.stdout)
    except ValueError:
        found = {}
    for name in ("librosa", "aubio"):
        if name not in found:
            print(f"{name:<30} not installed in {python} (pip install {name}; TWINSPUR_PEERS names another Python)")
            continue
        total = Agreement()
        for take, path in zip(takes, names, strict=True):
            onset_agreement(found[name][path], take, total)
        print(row(f"{name}, its defaults", total))


def gallops(takes: list[TrueTake]) -> None:
    """The second sixteenth's lateness against the same statistic of the truth."""
    print("\nThe gallop's second sixteenth, ms later than the rest: heard (95 % interval), true, difference")
    for take in takes:
        performance = performed(hear(take.sound, take.written), take.written)
        told = timing(performance, Bands())
        group = told.group("second sixteenth") if told else None
        if group is None:
            continue
        truth = take.of_stroke
        known = {id(stroke): truth[k] for k, stroke in enumerate(take.written.strokes)}
        real = tuple(replace(item, deviation_ms=known[id(item.stroke)]["dev_ms"]) for item in performance.strokes)
        same = timing(replace(performance, strokes=real), Bands())
        other = same.group("second sixteenth") if same else None
        if other is not None:
            late = group.late
            print(
                f"{take.name:<30} {late.value:6.2f} ({late.low:6.1f} to {late.high:5.1f})   {other.late.value:6.2f}   "
                f"{late.value - other.late.value:+.2f}"
            )


def midi(count: int) -> None:
    """Performances with known faults on whole ticks."""
    exact = invented = lost = 0
    began = time.perf_counter()
    for seed in range(count):
        random = Random(seed)
        asked = part(random)
        performer = Performer(asked, random)
        told = match_midi(MidiTake(tuple(sorted(performer.notes)), TICK), asked)
        missed, wrong, extras = faults(told)
        true_extras = {(float(at), pitch) for at, pitch in performer.extras}
        same = all(told.strokes[k].at_s == float(at) for k, at in performer.at.items())
        true = (performer.missed, set(performer.wrong), true_extras)
        invented += sum(len(mine - theirs) for mine, theirs in zip((missed, wrong, extras), true, strict=True))
        lost += sum(len(theirs - mine) for mine, theirs in zip((missed, wrong, extras), true, strict=True))
        exact += same and (missed, wrong, extras) == true
    each = (time.perf_counter() - began) / count * 1000
    print(f"\nMIDI: {exact} of {count} performances exact to the tick, {each:.0f} ms each")
    print(f"      faults lost {lost}, invented {invented}")


JUDGE = """
import resource, sys, time
from fractions import Fraction
from pathlib import Path
from tests.benchmarks.listening_bounds import against_bounds
from tests.listening.plucked import gallop
from trainer.listening.judging import judge_sound
from trainer.listening.read_sound import read_sound
asked = gallop(150, bars=4).repeated(int(sys.argv[2]))
(sound,) = read_sound(Path(sys.argv[1]))
times = []
for _ in range(int(sys.argv[3])):
    began = time.process_time()
    judgement = judge_sound(sound, asked)
    times.append(time.process_time() - began)
memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"{len(asked.strokes)} strokes, {judgement.verdict.outcome}: first {times[0]:.2f} s, median "
      f"{sorted(times)[len(times) // 2]:.2f} s of one core; peak memory {memory:.0f} MB")
"""


def speed() -> None:
    """CPU time of one core and memory of a process that reads and judges a file."""
    once = gallop(150, bars=4)
    piece = record(player(once, 0.0), float(once.length), 3).samples
    one_core = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    for passes, times in ((5, 5), (94, 1)):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "take.flac"
            sound = np.concatenate([np.zeros(24_000, np.float32), np.tile(piece, passes), piece[:9_600]])
            soundfile.write(path, sound, 48_000)
            words = [sys.executable, "-c", JUDGE, str(path), str(passes), str(times)]
            done = subprocess.run(words, capture_output=True, text=True, check=True, env=one_core)
            print(f"  {len(sound) / 48_000:5.0f} s of take, {done.stdout.strip()}")


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--takes", default=os.environ.get("TWINSPUR_TAKES", ""))
    parser.add_argument("--quick", action="store_true")
    options = parser.parse_args()
    performances = 100 if options.quick else 1000
    print("Speed (after start):")
    speed()
    folder = Path(options.takes) if options.takes else None
    takes = true_takes(folder) if folder and folder.is_dir() else []
    if not takes:
        print("\nNo takes with known truth: name their folder with TWINSPUR_TAKES.")
    if takes and folder:
        print("\nTakes, each one's median offset removed (bias: the largest of a take)")
        for take in takes:
            print(row(take.name, measured([take])))
        recorded = [take for take in takes if take.recorded]
        synthesised = [take for take in takes if not take.recorded]
        for kind, some in (("recorded", recorded), ("synthesised", synthesised)):
            if some:
                print(f"\n{kind}:")
                total = measured(some)
                print(row("twinspur, with the part", total))
                print(notes_row(total))
                print(against_bounds(total))
                peers(folder, some)
        for kind, some in (
            ("recorded, driven in their own chain", [take for take in recorded if take.drive]),
            ("recorded, without drive", [take for take in recorded if not take.drive]),
            ("recorded, chords of two or three strings", [take for take in recorded if take.chords]),
        ):
            if some:
                print(f"\n{kind} ({len(some)} takes; a chord's time is its first string's):")
                print(against_bounds(measured(some)))
        print("\nrecorded takes, changed:")
        for name, change in CHANGES.items():
            total = measured(recorded, change)
            print(row(name, total))
            print(against_bounds(total))
        gallops([take for take in takes if "gallop" in take.name])
    midi(performances)
    return 0


if __name__ == "__main__":
    sys.exit(main())
