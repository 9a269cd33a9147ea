"""Passages of known mode with noise notes, and the key-profile method that mode finding is compared with.

The passages are random walks, not draws from the finder's own probabilities: a line that mostly steps, sometimes leaps,
begins on a note of the tonic chord and ends on the tonic half of the time. A noise note is moved by a semitone out of
the scale.
"""

import math
from random import Random

from trainer.arranging.mode_finding import WeighedNote
from trainer.music.key import MODES, Key
from trainer.music.pitch import Name

MODES_MADE = tuple(mode for mode, degrees in MODES.items() if len(degrees) == 7 and mode not in ("major", "minor"))
TONICS = tuple(Name.parse(text) for text in ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"))


def passage(random: Random, key: Key, length: int, noise: float) -> list[WeighedNote]:
    """A passage of some notes in a key."""
    scale = [semitones for _, semitones in MODES[key.mode]]
    root = 48 + key.tonic.semitone
    degree = random.choice((0, 0, 2, 4))
    notes = []
    for number in range(length):
        if number == length - 1 and random.random() < 0.5:
            degree = 7 * round(degree / 7)
        octave, step = divmod(degree, 7)
        midi = root + 12 * octave + scale[step]
        if random.random() < noise:
            out = [move for move in (-1, 1) if (midi + move - root) % 12 not in scale]
            midi += random.choice(out) if out else 0
        notes.append(WeighedNote(midi, random.choice((0.25, 0.5, 0.5, 1.0))))
        degree += random.choice((-2, -1, -1, -1, 1, 1, 1, 2, -4, 4, 0))
        degree = min(max(degree, -3), 11)
    return notes


MAJOR = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
MINOR = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)
"""The probe-tone profiles of Krumhansl & Kessler 1982 (Psychol Rev 89:334), by semitone above the tonic."""
BY_DEGREE = (6.35, 3.48, 4.38, 4.09, 5.19, 3.66, 2.88)
"""The major profile by degree, for a profile of any seven-note mode."""
OUTSIDE = 2.35
"""The mean of the major profile's notes outside its scale."""


def profile(mode: str) -> list[float]:
    """A profile for a mode: the major one's ratings, given to the mode's degrees."""
    found = [OUTSIDE] * 12
    for (steps, semitones), rating in zip(MODES[mode], BY_DEGREE, strict=True):
        assert 0 <= steps < 7
        found[semitones] = rating
    return found


def by_profiles(notes: list[WeighedNote], profiles: dict[str, list[float]], tonic: Name | None) -> tuple[int, str]:
    """Tonic (0 to 11) and mode whose profile correlates best with the notes' lengths by pitch class."""
    weights = [0.0] * 12
    for note in notes:
        weights[note.midi % 12] += note.weight
    tonics = [tonic.semitone] if tonic else range(12)
    scores = [
        (correlation([weights[(root + n) % 12] for n in range(12)], shape), root, mode)
        for root in tonics
        for mode, shape in profiles.items()
    ]
    _, root, mode = max(scores)
    return root, mode


def correlation(one: list[float], other: list[float]) -> float:
    """Pearson's."""
    mean_1, mean_2 = sum(one) / len(one), sum(other) / len(other)
    a, b = [x - mean_1 for x in one], [y - mean_2 for y in other]
    size = math.sqrt(sum(x * x for x in a) * sum(y * y for y in b))
    return sum(x * y for x, y in zip(a, b, strict=True)) / size if size else 0.0


MAJOR_MINOR = {"ionian": list(MAJOR), "aeolian": list(MINOR)}
EVERY_MODE = {mode: profile(mode) for mode in MODES_MADE}
