"""Whether each matched stroke sounded at its written pitch, and if not, how far away."""

from dataclasses import dataclass

import numpy as np

from trainer.listening.attack import LEAST_NEW
from trainer.listening.attack import rise as news
from trainer.listening.evidence import Evidence, read, spectra, tuning_cents
from trainer.listening.slices import Attacks, ends, goes_on
from trainer.listening.sound import Floats, Ints, Sound
from trainer.listening.strum import Strum
from trainer.listening.written import WrittenPart

SHIFTS = (-12, -7, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 7, 12)
"""Semitones by which a plain wrong position differs."""
MOST_STEPS = 7
"""Semitones within which another chord of the part is played by mistake."""
WRONG_MARGIN, SURE_MARGIN = -0.15, -0.05
"""Salience by which another pitch must win to be called wrong: over the whole sound, and in its first 75 ms too."""
FIRST_S = 0.075
SHORTEST_SOUND_S = 0.045
"""Below two periods of the low E nothing is said about pitch."""
STRONG = 0.38
"""A candidate of this share of a typical stroke may be played over the sound before it without ending it."""
PLAIN_STRENGTH = 0.72
"""As strong as this, an attack needs no new pitch beside it to be a note."""
LEAST_RISE, SURE_RISE = 0.3, 0.6
"""How much of a written note's salience a new pitch must have gained, and after an attack of no strength."""
FAINT = 0.1
"""An attack of this share of a typical stroke's strength was found by the sound's breaking off alone."""
UNSURE = 0.6
"""A wrong pitch after a weaker attack than this must bring something that the past does not foretell."""
BEND_S = 0.06
"""Stretches of a bent note that are looked at one by one."""
AT_ONCE_S = 0.05
"""A weak attack so soon after a stroke, and of its pitch, belongs to it."""


@dataclass(frozen=True, slots=True)
class HeardStroke:
    """A written stroke as it was played."""

    at_s: float
    """Foot of the attack, seconds of the take."""
    strength: float
    """Onset strength over that of a typical stroke of the take."""
    shift: int | None
    """Semitones between what was played and what is written; None when the sound does not tell."""
    salience: float
    """How well the pitches that it is taken for explain the sound; about 0 in noise."""
    cents: float | None
    """For a bent stroke how far above its written pitch it went, in steps of ten cents; None for others."""
    strum: Strum | None = None
    """Of a chord of two strings, from the first to the second; None where it was not told."""


def pitch_range(written: WrittenPart) -> tuple[int, int]:
    """The pitches worth looking for: those written, an octave and a bit around."""
    pitches = [pitch for stroke in written.strokes for pitch in stroke.pitches] or [40, 64]
    return max(24, min(pitches) - 13), min(103, max(pitches) + 13)


def _others(pitches: tuple[int, ...], played: set[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """What may be played in place of a stroke: the same shape in a plain wrong position, or the part's other chords."""
    plain = [tuple(pitch + shift for pitch in pitches) for shift in SHIFTS]
    reach = range(-MOST_STEPS, MOST_STEPS + 1)
    return plain + [
        chord
        for chord in sorted(played - set(plain) - {pitches})
        if len(chord) == len(pitches) > 1 and chord[0] != pitches[0] and chord[0] - pitches[0] in reach
    ]


def _margins(evidence: Evidence, chords: list[tuple[int, ...]]) -> tuple[Floats, list[tuple[int, ...]]]:
    """For each sound how far the written pitches win over the best others, and those others."""
    margins, best = np.zeros(len(chords)), list(chords)
    for pitches in set(chords) - {()}:
        rows = np.array([row for row, chord in enumerate(chords) if chord == pitches])
        others = _others(pitches, set(chords))
        saliences = np.stack([_salience(evidence, rows, other) for other in others])
        which = saliences.argmax(axis=0)
        margins[rows] = _salience(evidence, rows, pitches) - saliences[which, np.arange(len(rows))]
        for row, other in zip(rows, which, strict=True):
            best[row] = others[other]
    return margins, best


def _salience(evidence: Evidence, rows: Ints, pitches: tuple[int, ...]) -> Floats:
    """`Evidence.of` for several sounds at once."""
    columns = np.array(pitches) - evidence.lowest
    if columns.min() < 0 or columns.max() >= evidence.salience.shape[1]:
        return np.full(len(rows), -1.0)
    return np.asarray(evidence.salience[np.ix_(rows, columns)].mean(axis=1))


def _bend(sound: Sound, start: float, stop: float, pitches: tuple[int, ...], cents: float) -> float | None:
    """How far above its written pitch a bent stroke went at most, in cents, looked for up to three semitones."""
    if not pitches:
        return None
    moments = np.arange(start + 0.04, max(stop - BEND_S, start + 0.05), BEND_S / 2)
    steps = np.arange(-100, 310, 10) / 100
    rows = read(spectra(sound, moments, moments + BEND_S), pitches[-1] + cents / 100 + steps)
    return float(round(steps[rows.argmax(axis=1)].max() * 100)) if len(rows) else None


def check_pitches(
    sound: Sound, written: WrittenPart, matching: Ints, attacks: Attacks
) -> tuple[tuple[HeardStroke | None, ...], float]:
    """The strokes as heard, each with its pitch checked, and the guitar's tuning in cents.

    A weak attack whose pitch is another's and was there before is what still rings, not a wrong note: it is left out.

    Args:
        sound: the take.
        written: the part.
        matching: for each stroke its attack, or -1.
        attacks: their times at the foot.
    """
    where = np.flatnonzero(matching >= 0)
    mine = matching[where]
    chords = [written.strokes[stroke].pitches for stroke in where]
    starts = attacks.times[mine]
    bent = [written.strokes[stroke].bent for stroke in where]
    stops = ends(attacks, STRONG, mine)[mine]
    grid = spectra(sound, starts, stops)
    cents = tuning_cents(grid, chords)
    lowest, highest = pitch_range(written)
    whole = Evidence.gathered(grid, lowest, highest, cents)
    firm = np.minimum(ends(attacks, sure=mine)[mine], starts + FIRST_S)
    first = Evidence.gathered(spectra(sound, starts, firm), lowest, highest, cents)
    before = Evidence.gathered(spectra(sound, starts - FIRST_S - 0.01, starts - 0.004), lowest, highest, cents)
    typical = float(np.median([whole.of(row, chord) for row, chord in enumerate(chords) if chord] or [1.0]))
    margins, others = _margins(whole, chords)
    sure, _ = _margins(first, chords)
    strokes: list[HeardStroke | None] = [None] * len(written.strokes)
    for row, stroke in enumerate(where):
        shift: int | None = 0
        sounds = chords[row]
        if margins[row] < WRONG_MARGIN and sure[row] < SURE_MARGIN:
            sounds = others[row]
            shift = sounds[0] - chords[row][0]
        if not chords[row] or (margins[row] < WRONG_MARGIN and firm[row] - starts[row] < SHORTEST_SOUND_S):
            shift = None
        strength = float(attacks.strengths[mine[row]])
        if shift and strength < PLAIN_STRENGTH:
            rise = whole.of(row, sounds) - max(before.of(row, sounds), 0.0)
            at_once = row > 0 and starts[row] - starts[row - 1] < AT_ONCE_S
            faint = strength <= FAINT
            doubtful = faint or at_once or goes_on(sound, float(starts[row]))
            if doubtful and rise < (SURE_RISE if faint else LEAST_RISE) * typical:
                continue
            if strength < UNSURE and not faint and news(sound, float(starts[row])) < LEAST_NEW:
                continue
        cents_bent = _bend(sound, float(starts[row]), float(stops[row]), chords[row], cents) if bent[row] else None
        salience = whole.of(row, sounds if shift else chords[row])
        strokes[stroke] = HeardStroke(float(starts[row]), strength, shift, salience, cents_bent)
    return tuple(strokes), cents
