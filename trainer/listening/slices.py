"""Attacks as a take's candidates, and the stretch of sound that belongs to each."""

from dataclasses import dataclass

import numpy as np

from trainer.listening.sound import Floats, Ints, Sound

SOLID = 0.31
"""A candidate as strong as this share of a typical stroke ends the sound before it."""
RINGS_FROM_S, RINGS_FOR_S = 0.03, 0.03
"""After 30 ms a dead noise has died and a note rings."""
AT_ONCE_S, AT_ONCE_SHARE = 0.045, 0.4
"""An attack so soon after one that is stronger by this share is part of it."""
CONTINUES = 0.85
"""Correlation over which the sound after an attack is the sound before it, ringing on under a noise."""
CLEAR = 0.35
"""Strength of an attack that is hardly a noise, as a share of a typical stroke."""
STEADY, BROKEN = 0.9, 0.6
"""Correlation over which a tone is periodic, and under which its period was not kept."""
SLACK_S = 0.0004
"""By how much a period that is kept may seem to be out of step: it is found to a fraction of a frame only."""


@dataclass(frozen=True, slots=True, eq=False)
class Attacks:
    """Attacks in time order, as arrays of one length."""

    times: Floats
    """Seconds of the take."""
    strengths: Floats
    """Onset strength as a share of a typical stroke's."""
    loudness: Floats
    """Root mean square 30 to 60 ms after the attack, full scale 1."""

    @classmethod
    def at(cls, sound: Sound, times: Floats, strengths: Floats) -> "Attacks":
        """Attacks of a sound, their loudness measured."""
        return cls(times, strengths, sound.levels(times + RINGS_FROM_S, RINGS_FOR_S))

    def only(self, which: Ints) -> "Attacks":
        """Some of them."""
        return Attacks(self.times[which], self.strengths[which], self.loudness[which])


def ends(attacks: Attacks, least: float = SOLID, sure: Ints | None = None) -> Floats:
    """Where the sound of each attack ends: just before the next one of at least some strength.

    What follows a far stronger attack at once is no end of it but its string coming to rest, or the rest of a chord.

    Args:
        attacks: all of them.
        least: the strength that ends a sound.
        sure: attacks that end the sound before them however weak they are.
    """
    times, strong = attacks.times, attacks.strengths.copy()
    if sure is not None:
        strong[sure] = np.inf
    solid = strong > least
    following = np.append(times[solid], (times[-1] if len(times) else 0.0) + 1.0)
    strengths = np.append(strong[solid], np.inf)
    place = np.searchsorted(following[:-1], times + 0.02)
    while True:
        own = (following[place] < times + AT_ONCE_S) & (strengths[place] < AT_ONCE_SHARE * attacks.strengths)
        if not own.any():
            return np.asarray(following[place] - 0.004)
        place = place + own


def goes_on(sound: Sound, at: float, slack_s: float = SLACK_S) -> bool:
    """Whether the waveform after an attack goes on as the one before it: then no string was struck anew.

    Args:
        sound: the take.
        at: second of the attack.
        slack_s: by how much its period may seem to be out of step.
    """
    steady, kept = _period_kept(sound, at, slack_s)
    if steady > STEADY:
        return kept > CONTINUES
    before, after = sound.between(at - 0.045, at - 0.006), sound.between(at + 0.012, at + 0.067)
    if len(after) < len(before) or not np.any(before):
        return False
    return float(_likeness(after, before).max()) > CONTINUES


def struck_anew(sound: Sound, at: float, strength: float = 0.0) -> bool:
    """Whether a steady tone begins again out of step at an attack, which only a new stroke makes it do.

    Args:
        sound: the take.
        at: second of the attack.
        strength: the attack's, as a share of a typical stroke's; the stronger, the less its tone need be out of step.
    """
    steady, kept = _period_kept(sound, at)
    return steady > STEADY and kept < (CONTINUES if strength > CLEAR else BROKEN)


def _likeness(sound: Floats, piece: Floats) -> Floats:
    """Correlation of a piece with each stretch of its length of a sound, between -1 and 1."""
    energy = np.concatenate([[0.0], np.cumsum(sound * sound)])
    energies = (energy[len(piece) :] - energy[: -len(piece)]) * (piece @ piece)
    return np.asarray(np.correlate(sound, piece, "valid") / np.sqrt(energies + 1e-15))


def _period_kept(sound: Sound, at: float, slack_s: float = SLACK_S) -> tuple[float, float]:
    """How periodic the sound before an attack is, and how well the sound after it keeps that period's step.

    The last 25 ms before the attack are found again a whole number of periods earlier; the sound after the attack is
    then looked at whole numbers of that later.
    """
    first, length = round((at - 0.031) * sound.rate), round(0.025 * sound.rate)
    nearest, farthest = round(0.0125 * sound.rate), round(0.0265 * sound.rate)
    if first < farthest or first + round(0.12 * sound.rate) > len(sound.samples):
        return 0.0, 0.0
    piece = sound.samples[first : first + length].astype(float)
    earlier = _likeness(sound.samples[first - farthest : first - nearest + length].astype(float), piece)
    best = int(np.argmax(earlier))
    lag = float(farthest - best)
    if 0 < best < len(earlier) - 1:
        bend = earlier[best - 1] - 2 * earlier[best] + earlier[best + 1]
        lag -= 0.5 * (earlier[best - 1] - earlier[best + 1]) / bend if bend < 0 else 0.0
    later = first + round(np.ceil(0.043 * sound.rate / lag) * lag)
    slack = max(1, round(slack_s * sound.rate))
    after = sound.samples[later - slack : later + length + slack].astype(float)
    return float(earlier[best]), float(_likeness(after, piece).max())
