"""Attacks as a take's candidates, and the stretch of sound that belongs to each."""

from dataclasses import dataclass

import numpy as np

from trainer.listening.sound import Floats, Ints, Sound

SOLID = 0.31
"""A candidate as strong as this share of a typical stroke ends the sound before it."""
RINGS_FROM_S, RINGS_FOR_S = 0.03, 0.03
"""After 30 ms a dead noise has died and a note rings."""

CONTINUES = 0.85
"""Correlation over which the sound after an attack is the sound before it, ringing on under a noise."""


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


def goes_on(sound: Sound, at: float) -> bool:
    """Whether the waveform after an attack repeats the one before it at some lag: then no string was struck anew."""
    before, after = sound.between(at - 0.045, at - 0.006), sound.between(at + 0.012, at + 0.067)
    if len(after) < len(before) or not np.any(before):
        return False
    products = np.correlate(after, before, "valid")
    energy = np.concatenate([[0.0], np.cumsum(after * after)])
    energies = (energy[len(before) :] - energy[: -len(before)]) * (before @ before)
    return bool((products / np.sqrt(energies + 1e-15)).max() > CONTINUES)
