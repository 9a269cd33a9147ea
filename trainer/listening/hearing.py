"""From sound to heard strokes: which written stroke was played when, at what pitch, and what was played besides.

The order of work: onset strength, its peaks as candidate attacks, evidence of pitch for each, the alignment of the
written strokes as a whole, then the foot of every matched attack, the check of its pitch, and the attacks left over.
"""

from dataclasses import dataclass

import numpy as np

from trainer.listening.alignment import Alignment, Rows, align
from trainer.listening.attack import foot
from trainer.listening.evidence import Evidence, spectra
from trainer.listening.extras import HeardExtra, extra_notes
from trainer.listening.pitches import SHIFTS, HeardStroke, check_pitches, pitch_range
from trainer.listening.slices import Attacks, ends
from trainer.listening.sound import Floats, Ints, Sound
from trainer.listening.strength import onset_strength, peaks
from trainer.listening.written import Written

FAINTEST = 0.18
"""Candidates weaker than this share of a typical stroke are noise."""
NO_STROKE = 0.1
"""Peaks below this share of the strong ones are no strokes, should there be fewer than are written."""
QUANTILE = 0.3
"""A typical stroke: this quantile of as many of the strongest peaks as there are strokes."""
PICKED, SLURRED = 0.38, 0.27
"""Strength, as a share of a typical stroke, at which a candidate is as likely a stroke as not: noises of a third are
common, strokes of a third are rare (one in a hundred)."""
STEEPNESS = 0.03
"""Share of a typical stroke that moves those odds by one nat."""
PEAK_LATE_S = 0.003
"""How much later than the foot a peak of strength lies."""


@dataclass(frozen=True, slots=True)
class Hearing:
    """All that was heard in one take."""

    strokes: tuple[HeardStroke | None, ...]
    """One for each written stroke; None when it was missed."""
    extras: tuple[HeardExtra, ...]
    alignment: Alignment
    cents: float
    """How far the guitar is tuned above A4 = 440 Hz, within half a semitone."""


def _odds(salience: Floats, typical: float) -> Floats:
    """Odds that a pitch of some salience sounds, bounded both ways."""
    return np.asarray(np.exp(np.clip(6.0 * salience / typical - 4.0, -5.0, 1.0)))


def _pitch_score(evidence: Evidence, pitches: tuple[int, ...]) -> Floats:
    """For every attack the log odds that its sound is of these pitches, against a noise without pitch.

    A wrong note is a note all the same: one in twenty, at some plain distance from the written one.
    """
    if not pitches or not len(evidence.salience):
        return np.zeros(len(evidence.salience))
    columns = np.array(pitches) - evidence.lowest
    own = evidence.salience[:, columns].mean(axis=1)
    typical = max(float(np.percentile(own, 75)), 0.3)
    moved = [columns + shift for shift in SHIFTS if abs(shift) <= 5]
    inside = [place for place in moved if place.min() >= 0 and place.max() < evidence.salience.shape[1]]
    other = np.max([evidence.salience[:, place].mean(axis=1) for place in inside], axis=0)
    return np.asarray(np.log(0.95 * _odds(own, typical) + 0.05 * _odds(other, typical)))


def _typical(values: Floats, strokes: int) -> float:
    """The strength of a typical stroke, from peaks and how many strokes are written; a take may hold only some."""
    strongest = np.sort(values)[::-1][: max(strokes, 4)]
    if not len(strongest):
        return 1.0
    strong = float(np.median(strongest[: -(-len(strongest) // 4)]))
    return float(np.quantile(strongest[strongest > NO_STROKE * strong], QUANTILE))


def hear(sound: Sound, written: Written, starts: list[tuple[float, float]] | None = None) -> Hearing:
    """Hear one take against the written part.

    Args:
        sound: at 16 kHz or more.
        written: what should have been played.
        starts: pairs of (second at which the part begins, rate) to try; None looks everywhere.
    """
    at = np.array([float(stroke.at) for stroke in written.strokes])
    strength = onset_strength(sound.lowered(20_000))
    times, values = peaks(strength)
    typical = _typical(values, len(at))
    kept = values > FAINTEST * typical
    low = sound.lowered(11_000)
    attacks = Attacks.at(low, times[kept] - PEAK_LATE_S, values[kept] / typical)
    alignment = align(at, attacks.times, _rows(low, written, attacks), starts)
    matched = alignment.attack[alignment.attack >= 0]
    feet = attacks.times.copy()
    for attack in matched:
        feet[attack] = foot(sound, float(feet[attack]))
    attacks = Attacks(feet, attacks.strengths, attacks.loudness)
    strokes, cents = check_pitches(low, written, alignment.attack, attacks)
    left = np.setdiff1d(np.arange(len(feet)), matched)
    extras = extra_notes(low, written, attacks.only(left), strokes, cents)
    return Hearing(strokes, extras, alignment, cents)


def _rows(sound: Sound, written: Written, attacks: Attacks) -> Rows:
    """Scores of a stroke being each of some attacks: by strength, by ringing on, by pitch."""
    lowest, highest = pitch_range(written)
    evidence = Evidence.gathered(spectra(sound, attacks.times, ends(attacks)), lowest, highest)
    chords = {chord: _pitch_score(evidence, chord) for chord in {stroke.pitches for stroke in written.strokes}}
    strengths, loudness = attacks.strengths, attacks.loudness
    solid = strengths > PICKED
    loud = float(np.median(loudness[solid])) if solid.any() else 1.0
    ringing = np.clip(1.5 * np.log((loudness + 1e-9) / (0.35 * loud + 1e-9)), -6.0, 0.0)
    likely = [-np.log1p(np.exp(np.clip((middle - strengths) / STEEPNESS, -20, 8))) for middle in (PICKED, SLURRED)]

    def rows(stroke: int, near: Ints) -> Floats:
        item = written.strokes[stroke]
        rings = 0.0 if item.dead else ringing[near]
        return np.asarray(likely[item.slurred][near] + rings + chords[item.pitches][near])

    return rows
