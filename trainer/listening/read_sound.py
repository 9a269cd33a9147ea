"""Reading audio takes: any format libsndfile reads, at any rate, one guitarist a channel.

A file is read in blocks; nothing is trusted that its header says. A stereo file is two takes unless both sides hold
the same sound.
"""

import os
from pathlib import Path

import numpy as np

from trainer.listening.sound import Samples, Sound
from trainer.listening.soundness import LEAST_RATE, LONGEST_S, clock
from trainer.music.problem import Problem, ProblemsError

BLOCK = 1 << 18
MOST_CHANNELS = 2
MOST_DAMAGED = 1e-3
"""Share of samples that may be no numbers; they are taken for silence."""
ALIKE = 0.98
"""Correlation from which two sides are one guitar."""


def _problem(path: Path, what: str, hint: str = "") -> ProblemsError:
    return ProblemsError([Problem(path.name, 0, 0, what, hint=hint)])


def read_sound(path: Path) -> tuple[Sound, ...]:
    """The takes in an audio file: one, or two where a guitarist plays on each side of a stereo file.

    Raises:
        ProblemsError: when the file cannot be read or used, with a sentence that says why.
    """
    import soundfile

    try:
        if not path.is_file():
            raise _problem(path, "There is no such file")
        with soundfile.SoundFile(os.fsencode(path)) as file:  # its name may be no UTF-8
            rate, channels = int(file.samplerate), int(file.channels)
            if channels > MOST_CHANNELS:
                raise _problem(path, f"The file has {channels} channels", "Mix it to one guitar on each side")
            if rate < LEAST_RATE:
                hint = f"Record at 44100 Hz or more; {LEAST_RATE} Hz is the least"
                raise _problem(path, f"It was recorded at {rate} Hz, too coarse to time an attack", hint)
            if file.frames > LONGEST_S * rate:
                hint = f"Cut out the pass you mean; up to {clock(LONGEST_S)} is judged"
                raise _problem(path, f"It lasts {clock(file.frames / rate)}", hint)
            room = min(file.frames, int(LONGEST_S * rate))
            samples, read = np.empty((room, channels), np.float32), 0
            while read < room and len(block := file.read(min(BLOCK, room - read), dtype="float32", always_2d=True)):
                samples[read : read + len(block)] = block
                read += len(block)
    except (soundfile.LibsndfileError, OSError, ValueError, MemoryError) as error:
        raise _problem(
            path, "The file is no audio that can be read, or is cut short", "Export it as WAV or FLAC"
        ) from error
    if not read:
        raise _problem(path, "The file holds no sound", "Export it again")
    damaged = 1.0 - float(np.isfinite(samples[:read]).mean())
    if damaged > MOST_DAMAGED:
        raise _problem(path, f"{damaged:.1%} of its samples are damaged (no numbers)", "Export it again")
    return split_sides(samples[:read], rate)


def split_sides(samples: Samples, rate: int) -> tuple[Sound, ...]:
    """Mono takes from samples of shape (frames, channels): two where the sides differ and both sound."""
    clean: Samples = np.nan_to_num(samples, nan=0.0, posinf=1.0, neginf=-1.0, copy=False)
    if clean.shape[1] == 1:
        return (Sound(np.ascontiguousarray(clean[:, 0]), rate),)
    left, right = (np.ascontiguousarray(clean[:, side]) for side in (0, 1))
    energies = [float(np.square(side, dtype=np.float64).sum()) for side in (left, right)]
    if min(energies) < 1e-4 * max(energies):
        return (Sound(left if energies[0] >= energies[1] else right, rate),)
    together = float(np.dot(left, right)) / (energies[0] * energies[1]) ** 0.5
    if together > ALIKE:
        return (Sound((left + right) * np.float32(0.5), rate),)
    return Sound(left, rate), Sound(right, rate)
