"""Which keys and modes some notes belong to, ranked, with the evidence.

Each key gives every pitch class a probability: notes of the scale share `1 - OUTSIDE`, those of the tonic chord more
than the others, and notes outside share the rest. The score of a key is the log probability of the notes heard,
weighted by their length, and terms for where a tonic shows itself: as the last note, as the first, and in the bass.
Profiles that know only major and minor decide 67 to 83 % of pieces (Robine et al. 2008) and cannot tell modes apart;
here the pitch-class set decides, the tonic is declared where the key is known, and keys that the notes cannot tell
apart are ties. A pentatonic scale is scored as its seven-note parent with two degrees missing, so that it wins only
where nothing of those two is heard.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log

from trainer.arranging.scale import PARENTS, parent, spell
from trainer.music.key import MODES, Key
from trainer.music.pitch import Name

OUTSIDE = 0.06
"""Probability that a note is outside its key. House rule."""
TONIC_CHORD = {0: 1.5, 1: 1.0, 2: 1.15, 3: 1.0, 4: 1.2, 5: 1.0, 6: 1.0}
"""How likely each degree of a scale (by steps above the tonic) is beside the others. House rule: tonic, fifth and third
lead."""
LAST_NOTE, FIRST_NOTE = log(4.0), log(2.0)
"""What it counts for a key that its tonic ends the line, and that it begins it. House rules."""
BASS_TONIC, BASS_FIFTH = log(4.0), log(2.0)
"""What it counts for a key that its tonic, or the fifth above it, is in the bass, for each beat. House rules."""
BASS_BEATS = 4.0
"""So many beats of bass count; a longer bass part counts no more. House rule."""
RARE = log(2.0)
"""What it counts against the modes of `UNUSUAL` unless the file declares them. House rule."""
UNUSUAL = frozenset({"harmonic minor", "melodic minor", "phrygian dominant"})
NUDGE = 1e-6
"""Puts the declared key (then its parent) first among ties, and a pentatonic before its parent."""
DOUBLES = frozenset({"major", "minor"})
"""Names that the table has twice."""


@dataclass(frozen=True, slots=True)
class WeighedNote:
    """A note as evidence."""

    midi: int
    weight: float = 1.0
    """Its length in beats, or 1."""


@dataclass(frozen=True, slots=True)
class ModeFit:
    """How well a key fits."""

    key: Key
    score: float
    """Log probability, in sum over the notes; only differences matter."""
    inside: float
    """The share of the notes' weight that is in the scale."""
    outside: tuple[tuple[Name, int], ...]
    """Notes outside the scale and how often they are heard, the commonest first."""
    absent: tuple[Name, ...]
    """Degrees (of its parent, for a pentatonic) that are never heard: they could be otherwise."""


def find_modes(
    notes: Sequence[WeighedNote],
    *,
    tonic: Name | None = None,
    declared: Key | None = None,
    bass: Sequence[WeighedNote] = (),
    count: int = 5,
) -> tuple[ModeFit, ...]:
    """The best fitting keys, the best first.

    Args:
        notes: the notes in order.
        tonic: the tonic where it is declared; None looks at all twelve.
        declared: the key that comes first where the notes cannot tell it from others.
        bass: the bass's notes, as evidence for the tonic.
        count: how many keys come back.
    """
    if not notes:
        return ()
    weights = [0.0] * 12
    for note in notes:
        weights[note.midi % 12] += note.weight
    often = Counter(note.midi % 12 for note in notes)
    low = _bass_weights(bass)
    home = parent(declared) if declared else None
    fits = []
    for key in _keys(tonic):
        score = sum(weight * value for weight, value in zip(weights, _logs(key), strict=True))
        root = key.tonic.semitone
        score += LAST_NOTE * (notes[-1].midi % 12 == root) + FIRST_NOTE * (notes[0].midi % 12 == root)
        score += (
            BASS_TONIC * low[root]
            + BASS_FIFTH * low[(root + 7) % 12]
            - RARE * (key.mode in UNUSUAL and key != declared)
        )
        score += NUDGE * ((key.mode in PARENTS) + 3 * (key == declared) + 2 * (key == home))
        fits.append((score, key))
    fits.sort(key=lambda fit: -fit[0])
    return tuple(_fit(key, score, weights, often) for score, key in fits[:count])


def _bass_weights(bass: Sequence[WeighedNote]) -> list[float]:
    """How many beats of each pitch class the bass plays, scaled down to `BASS_BEATS` in all."""
    weights = [0.0] * 12
    for note in bass:
        weights[note.midi % 12] += note.weight
    scale = min(1.0, BASS_BEATS / (sum(weights) or 1.0))
    return [weight * scale for weight in weights]


def _fit(key: Key, score: float, weights: Sequence[float], often: Counter[int]) -> ModeFit:
    scale = frozenset(key.semitones)
    total = sum(weights)
    inside = sum(weight for semitone, weight in enumerate(weights) if semitone in scale) / (total or 1.0)
    outside = tuple((spell(key, s).name, times) for s, times in often.most_common() if s not in scale)
    absent = tuple(name for name in parent(key).names if name.semitone not in often)
    return ModeFit(key, score, inside, outside, absent)


@lru_cache(maxsize=64)
def _keys(tonic: Name | None) -> tuple[Key, ...]:
    tonics = [tonic] if tonic is not None else [_usual(semitone) for semitone in range(12)]
    return tuple(Key(name, mode) for name in tonics for mode in MODES if mode not in DOUBLES)


_USUAL = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")


def _usual(semitone: int) -> Name:
    """The usual name of a tonic."""
    return Name.parse(_USUAL[semitone])


@lru_cache(maxsize=512)
def _logs(key: Key) -> tuple[float, ...]:
    """The log probability of each pitch class in a key."""
    degrees = {(key.tonic.semitone + semitones) % 12: TONIC_CHORD[steps] for steps, semitones in MODES[key.mode]}
    total = sum(TONIC_CHORD.values())
    rest = OUTSIDE / 5
    return tuple(log((1 - OUTSIDE) * degrees[s] / total if s in degrees else rest) for s in range(12))


@dataclass(frozen=True, slots=True)
class Deciding:
    """What tells the best key from a rival."""

    rival: Key
    names: tuple[Name, ...]
    """Notes heard that the best key has and the rival has not."""
    tie: bool
    """Nothing heard tells them apart."""


def deciding(fits: Sequence[ModeFit], notes: Iterable[WeighedNote]) -> tuple[Deciding, ...]:
    """What tells the best fit from each of the others."""
    if not fits:
        return ()
    best = fits[0]
    heard = {note.midi % 12 for note in notes}
    found = []
    for other in fits[1:]:
        lacking = frozenset(other.key.semitones)
        names = tuple(n for n in best.key.names if n.semitone in heard and n.semitone not in lacking)
        same = not (heard & (frozenset(best.key.semitones) ^ lacking)) and best.key.tonic == other.key.tonic
        found.append(Deciding(other.key, names, same))
    return tuple(found)
