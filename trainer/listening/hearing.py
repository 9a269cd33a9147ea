"""From sound to heard strokes: which written stroke was played when, at what pitch, and what was played besides.

The order of work: onset strength, its peaks as candidate attacks, evidence of pitch for each, the alignment of the
written strokes as a whole, then the foot of every matched attack, the strokes that have no peak, the check of pitches,
and the attacks left over.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trainer.listening.alignment import Alignment, Rows, align
from trainer.listening.attack import first_string, foot
from trainer.listening.breaks import with_strokes_without_strength
from trainer.listening.evidence import Evidence, spectra
from trainer.listening.extras import HeardExtra, extra_notes
from trainer.listening.pitches import PLAIN_STRENGTH, SHIFTS, HeardStroke, check_pitches, pitch_range
from trainer.listening.slices import Attacks, ends, goes_on
from trainer.listening.sound import Floats, Ints, Sound
from trainer.listening.strength import onset_strength, peaks
from trainer.listening.strum import RATE, can_be_told, strum
from trainer.listening.swell import blur_ms, lead
from trainer.listening.written import WrittenPart

FAINTEST = 0.1
"""Candidates weaker than this share of a typical stroke are noise."""
NO_STROKE = 0.1
"""Peaks below this share of the strong ones are no strokes, should there be fewer than are written."""
QUANTILE = 0.3
"""A typical stroke: this quantile of as many of the strongest peaks as there are strokes."""
PICKED = 0.38
"""Strength, as a share of a typical stroke, at which a candidate is as likely a stroke as not, in a take of which
nothing else is known: noises of a third are common, strokes of a third are rare (one in a hundred)."""
SLURRED = 0.7
"""A hammered note may be weaker by this factor."""
SOFTEST = 0.17
"""Where a take shows hardly any noise between its strokes, one as soft as this is as likely a stroke as not."""
STEEPNESS = 7.0
"""Nats by which an e times stronger candidate is likelier a stroke."""
NOISES = 8
"""A take's noise is the strength that one candidate which is no stroke reaches for every so many strokes."""
SOFTER = 1.0
"""Nats by which a candidate e times softer than a typical stroke is a less likely one, however quiet the take."""
SURE_S, LEAST_SURE = 0.08, 0.5
"""The pitch of a shorter sound counts for less, down to this share."""
POOR = 0.0
"""Mean pitch score of the matched strokes under which another tuning is thought of."""
TUNED_BY, TUNED_COST = 100, 10.0
"""Strokes that tell another tuning, and the nats by which it must be the better explanation."""
GOES_ON = -2.0
"""Nats against a weak candidate after which the sound goes on as before it."""
PEAK_LATE_S = 0.003
"""How much later than the foot a peak of strength lies."""
PLACES_S = 0.0005
"""Candidates are looked at from such places: finer, a peak's time says nothing, and in a sound that grows it would move
with every second that comes, and what was found out about its candidate would not be the same any more."""


@dataclass(frozen=True, slots=True)
class Hearing:
    """All that was heard in one take."""

    strokes: tuple[HeardStroke | None, ...]
    """One for each written stroke; None when it was missed."""
    extras: tuple[HeardExtra, ...]
    alignment: Alignment
    cents: float
    """How far the guitar is tuned above A4 = 440 Hz, within half a semitone."""
    blur_ms: float = 0.0
    """How far the attacks' feet are a matter of taste: near 0 for a plucked string, 10 and more for one that swells."""


def _odds(salience: Floats, typical: float) -> Floats:
    """Odds that a pitch of some salience sounds, bounded both ways."""
    return np.asarray(np.exp(np.clip(6.0 * salience / typical - 4.0, -5.0, 1.0)))


def _pitch_score(evidence: Evidence, pitches: tuple[int, ...], times: int) -> Floats:
    """For every attack the log odds that its sound is of these pitches, against a noise without pitch.

    A wrong note is a note all the same: one in twenty, at some plain distance from the written one.

    Args:
        evidence: of every attack.
        pitches: those written.
        times: how often they are written, and so how many attacks may be of them.
    """
    if not pitches or not len(evidence.salience):
        return np.zeros(len(evidence.salience))
    columns = np.array(pitches) - evidence.lowest
    own = evidence.salience[:, columns].mean(axis=1)
    typical = max(float(np.median(np.sort(own)[::-1][:times])), 0.3)
    moved = [columns + shift for shift in SHIFTS if abs(shift) <= 5]
    inside = [place for place in moved if place.min() >= 0 and place.max() < evidence.salience.shape[1]]
    other: Floats = np.array([evidence.salience[:, place].mean(axis=1) for place in inside]).max(axis=0)
    odds: Floats = 0.95 * _odds(own, typical) + 0.05 * _odds(other, typical)
    return np.asarray(np.log(odds))


def _typical(values: Floats, strokes: int) -> float:
    """The strength of a typical stroke, from peaks and how many strokes are written; a take may hold only some."""
    strongest = np.sort(values)[::-1][: max(strokes, 4)]
    if not len(strongest):
        return 1.0
    strong = float(np.median(strongest[: -(-len(strongest) // 4)]))
    return float(np.quantile(strongest[strongest > NO_STROKE * strong], QUANTILE))


def hear(sound: Sound, written: WrittenPart, starts: list[tuple[float, float]] | None = None) -> Hearing:
    """Hear one take against the written part.

    Args:
        sound: at 16 kHz or more.
        written: what should have been played.
        starts: pairs of (second at which the part begins, rate) to try; None looks everywhere.
    """
    at = np.array([float(stroke.at) for stroke in written.strokes])
    bright = sound.lowered(20_000)
    strength = onset_strength(bright)
    times, values = peaks(strength)
    typical = _typical(values, len(at))
    kept = values > FAINTEST * typical
    low = sound.lowered(11_000)
    places = np.round((times[kept] - PEAK_LATE_S) / PLACES_S) * PLACES_S
    attacks = Attacks.at(low, places, values[kept] / typical)
    likeness = _Likeness(low, written, attacks)
    alignment = align(at, attacks.times, likeness.rows(PICKED), starts)
    shift = _tuned(at, attacks.times, likeness, alignment, starts)
    if shift:
        alignment = align(at, attacks.times, likeness.rows(PICKED, shift), starts)
    least = _least(np.delete(attacks.strengths, alignment.attack[alignment.attack >= 0]), len(at))
    if least < PICKED:
        followed = [(alignment.start_s, alignment.rate)]
        alignment = align(at, attacks.times, likeness.rows(least, shift), followed)
    feet = attacks.times.copy()
    for stroke, attack in enumerate(alignment.attack):
        if attack >= 0:
            rough = float(feet[attack])
            feet[attack] = foot(low, rough, slurred=written.strokes[stroke].slurred)
            if len(written.strokes[stroke].pitches) > 1:
                feet[attack] = first_string(low, min(float(feet[attack]), foot(bright, rough)))
    attacks = Attacks(feet, attacks.strengths, attacks.loudness)
    matching, attacks = with_strokes_without_strength(low, alignment.attack, alignment.expected, attacks)
    strokes, cents = check_pitches(low, written, matching, attacks)
    left = np.setdiff1d(np.arange(len(attacks.times)), matching)
    extras = extra_notes(low, written, attacks.only(left), strokes, cents)
    onsets = [heard.at_s for heard in strokes if heard]
    ahead, blur = lead(low, onsets), blur_ms(low, onsets)
    strokes = _strummed(bright, low, written, strokes, cents)
    if ahead:
        strokes = tuple(heard and replace(heard, at_s=heard.at_s - ahead) for heard in strokes)
        extras = tuple(replace(extra, at_s=extra.at_s - ahead) for extra in extras)
    return Hearing(strokes, extras, alignment, cents, blur)


def _strummed(
    bright: Sound, low: Sound, written: WrittenPart, strokes: Sequence[HeardStroke | None], cents: float
) -> tuple[HeardStroke | None, ...]:
    """The strokes, those of two strings with the time from the first to the second."""
    if not any(can_be_told(stroke.pitches) for stroke in written.strokes):
        return tuple(strokes)
    dull = low.lowered(RATE)
    told = list(strokes)
    for index, (stroke, heard) in enumerate(zip(written.strokes, strokes, strict=True)):
        if heard is not None and heard.shift is not None and can_be_told(stroke.pitches):
            pitches = [pitch + heard.shift + cents / 100 for pitch in stroke.pitches]
            told[index] = replace(heard, strum=strum(bright, dull, heard.at_s, pitches))
    return tuple(told)


def _least(noises: Floats, strokes: int) -> float:
    """The strength at which a candidate is as likely a stroke as not, from the strengths of a take's noises."""
    rank = min(len(noises) - 1, strokes // NOISES)
    noise = float(np.sort(noises)[::-1][rank]) if len(noises) else FAINTEST
    return float(np.clip(0.8 * noise**0.57, SOFTEST, PICKED))


def _tuned(
    at: Floats, times: Floats, likeness: "_Likeness", alignment: Alignment, starts: list[tuple[float, float]] | None
) -> int:
    """Semitones by which the whole take sounds away from what is written, as on a guitar of another tuning; mostly 0.

    Asked only where the pitches do not agree as it is, and answered by the beginning of the part.
    """
    matched = np.flatnonzero(alignment.attack >= 0)
    if not len(matched) or likeness.pitch(alignment) > POOR:
        return 0
    first = at[:TUNED_BY]
    scores = {
        shift: align(first, times, likeness.rows(PICKED, shift), starts).score - TUNED_COST * bool(shift)
        for shift in (0, -1, 1, -2, 2)
    }
    return max(scores, key=lambda shift: scores[shift])


class _Likeness:
    """How well each attack passes for each stroke, apart from time: by strength, by ringing on, by pitch."""

    def __init__(self, sound: Sound, written: WrittenPart, attacks: Attacks) -> None:
        lowest, highest = pitch_range(written)
        stops = ends(attacks)
        evidence = Evidence.gathered(spectra(sound, attacks.times, stops), lowest, highest)
        sure = np.clip((stops - attacks.times) / SURE_S, LEAST_SURE, 1.0)
        self._evidence, self._sure = evidence, sure
        self._often = Counter(item.pitches for item in written.strokes)
        self._chords = self._transposed(0)
        self._strokes, self._strengths = written.strokes, attacks.strengths
        loudness, solid = attacks.loudness, attacks.strengths > PICKED
        loud = float(np.median(loudness[solid])) if solid.any() else 1.0
        weak = np.flatnonzero(attacks.strengths < PLAIN_STRENGTH)
        same = [attack for attack in weak if goes_on(sound, float(attacks.times[attack]))]
        self._noises = np.zeros(len(attacks.times))
        self._noises[same] = GOES_ON
        self._ringing = np.clip(1.5 * np.log((loudness + 1e-9) / (0.35 * loud + 1e-9)), -6.0, 0.0)

    def _transposed(self, shift: int) -> dict[tuple[int, ...], Floats]:
        """For every written chord the score of each attack being it, all moved by some semitones."""
        return {
            chord: self._sure * _pitch_score(self._evidence, tuple(pitch + shift for pitch in chord), times)
            for chord, times in self._often.items()
        }

    def pitch(self, alignment: Alignment) -> float:
        """The mean score of the matched attacks by their pitch alone."""
        matched = np.flatnonzero(alignment.attack >= 0)
        return float(
            np.mean([self._chords[self._strokes[stroke].pitches][alignment.attack[stroke]] for stroke in matched])
        )

    def rows(self, least: float, shift: int = 0) -> Rows:
        """Scores in nats, where a candidate of strength `least` is as likely a picked stroke as not.

        Args:
            least: share of a typical stroke's strength.
            shift: semitones by which everything may sound away from what is written.
        """
        found = self._transposed(shift) if shift else self._chords
        chords = np.array(list(found.values()))
        odds = [STEEPNESS * np.log(self._strengths / (least * share)) for share in (1.0, SLURRED)]
        softer = SOFTER * np.minimum(np.log(self._strengths), 0.0)
        likely = np.array([np.clip(-np.log1p(np.exp(-value)), -20.0, 0.0) + softer for value in odds])
        rings = np.array([self._noises + self._ringing, self._noises])
        place = {chord: row for row, chord in enumerate(found)}
        chord = np.array([place[item.pitches] for item in self._strokes], np.int64)
        slurred = np.array([item.slurred for item in self._strokes], np.int64)
        dead = np.array([item.dead for item in self._strokes], np.int64)

        def rows(strokes: Ints, near: Ints) -> Floats:
            own = likely[slurred[strokes], near] + rings[dead[strokes], near]
            return np.asarray(own + chords[chord[strokes], near])

        return rows
