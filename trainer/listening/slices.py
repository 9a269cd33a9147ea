"""Attacks as a take's candidates, and the stretch of sound that belongs to each."""

from dataclasses import dataclass

import numpy as np

from trainer.listening.sound import Floats, Ints, Sound

SOLID = 0.26
"""A candidate as strong as this share of a typical stroke ends the sound before it."""
RINGS_FROM_S, RINGS_FOR_S = 0.03, 0.03
"""After 30 ms a dead noise has died and a note rings."""


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


def ends(attacks: Attacks, least: float = SOLID) -> Floats:
    """Where the sound of each attack ends: just before the next one of at least some strength."""
    times = attacks.times
    solid = times[attacks.strengths > least]
    following = np.append(solid, (times[-1] if len(times) else 0.0) + 1.0)
    return np.asarray(following[np.searchsorted(solid, times + 0.02)] - 0.004)
