"""Notes that nobody wrote, told from the noises that strings make.

A note rings on after its attack and brings a pitch that was not there before, near to what is written; a hand that
lands on the strings, or a pick that rests on one, does not. What is reported is worded as possible.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trainer.listening.attack import LEAST_NEW, rise
from trainer.listening.breaks import struck_twice
from trainer.listening.evidence import read, spectra
from trainer.listening.pitches import PLAIN_STRENGTH, HeardStroke
from trainer.listening.slices import AT_ONCE_SHARE, RINGS_FOR_S, RINGS_FROM_S, Attacks, goes_on, struck_anew
from trainer.listening.sound import Floats, Sound
from trainer.listening.written import WrittenPart

LEAST_STRENGTH = 0.29
"""Onset strength, as a share of a typical stroke, to be looked at."""
LEAST_LOUDNESS = 0.6
"""Level 30 to 60 ms after the attack, as a share of the written strokes'."""
LEAST_RISE, LEAST_SALIENCE = 0.4, 0.5
"""How much of a written note's salience its pitch must have gained, and must have."""
NEAR_SEMITONES = 5
"""A slip lands near to what is written around it."""
TOO_MANY = 0.15
"""More extras than this share of the strokes are no slips but a sound that beats; only plain ones are kept then."""
APART_S = 0.04
"""Nearer to a matched stroke than this it is part of that stroke."""
AT_ONCE_S = 0.05
"""So soon after a far stronger stroke it is part of it too."""
LONGEST_S = 0.1
NO_SLACK_S = 0.0001
"""A noise leaves a ringing string's period exactly in step; a string struck again may come near to it by chance."""
TWICE_FROM_S, TWICE_TO_S = 0.045, 0.15
"""So soon after a stroke a pick touches its string twice. Of chords only what has strength is looked at: their strings
come off one after another, and recorded ones seem to begin anew where they do not."""


@dataclass(frozen=True, slots=True)
class HeardExtra:
    """An attack that nobody wrote."""

    at_s: float
    """Seconds of the take."""
    strength: float
    """Onset strength over that of a typical stroke of the take."""
    pitch: int
    """The MIDI pitch it most likely had."""
    twice: bool = False
    """Whether the sound surely began anew there, soon after a stroke and at its pitch."""


def extra_notes(
    sound: Sound, written: WrittenPart, left: Attacks, strokes: Sequence[HeardStroke | None], cents: float
) -> tuple[HeardExtra, ...]:
    """The notes among the attacks that no written stroke explains, in time order."""
    played = [index for index, heard in enumerate(strokes) if heard]
    onsets = np.array([heard.at_s for heard in strokes if heard])
    strengths = np.array([heard.strength for heard in strokes if heard])
    if len(played) < 4 or not len(left.times):
        return ()
    chords = [written.strokes[index].pitches for index in played]
    usual = _usual_salience(sound, onsets, chords, cents)
    loud = float(np.median(sound.levels(onsets + RINGS_FROM_S, RINGS_FOR_S)))
    found = []
    for at, strength, loudness in zip(left.times, left.strengths, left.loudness, strict=True):
        nearest = int(np.argmin(np.abs(onsets - at)))
        before_it = int(np.searchsorted(onsets, at)) - 1
        following = onsets[onsets > at]
        weak = loudness < LEAST_LOUDNESS * loud
        alone = before_it >= 0 and len(chords[before_it]) == 1
        twice = not weak and (alone or strength >= LEAST_STRENGTH) and _twice(sound, float(at), onsets, before_it)
        weak |= strength < LEAST_STRENGTH and not twice
        weak |= (
            before_it >= 0 and at < onsets[before_it] + AT_ONCE_S and strength < AT_ONCE_SHARE * strengths[before_it]
        )
        around = {pitch for chord in chords[max(0, nearest - 2) : nearest + 3] for pitch in chord}
        if weak or not around or abs(onsets[nearest] - at) < APART_S:
            continue
        slips = {pitch + step for pitch in around for step in range(-NEAR_SEMITONES, NEAR_SEMITONES + 1)}
        until = min(float(following[0]) - 0.004 if len(following) else at + LONGEST_S, at + LONGEST_S)
        near = np.array(sorted(slips), dtype=float)
        last = max(at - LONGEST_S, float(onsets[onsets < at].max(initial=0.0)))
        starts, stops = np.array([at, last]), np.array([until, at - 0.004])
        now, before = read(spectra(sound, starts, stops), near + cents / 100) / usual
        sounding = chords[int(np.searchsorted(onsets, at)) - 1] if at > onsets[0] else ()
        ringing = goes_on(sound, float(at))
        before = np.where(np.isin(near, sounding) & ringing, now, before)
        again = not ringing and (strength > PLAIN_STRENGTH or struck_anew(sound, float(at), float(strength)))
        pitch = _pitch(near, now, before, again=again)
        if pitch is not None and strength >= LEAST_STRENGTH and rise(sound, float(at)) > LEAST_NEW:
            found.append(HeardExtra(float(at), float(strength), pitch))
        elif twice:
            own = np.isin(near, sounding)
            pitch = _pitch(near[own], now[own], before[own], again=True) if own.any() else None
            if pitch is not None:
                found.append(HeardExtra(float(at), float(strength), pitch, twice=True))
    if len(found) > 2 + TOO_MANY * len(played):
        found = [extra for extra in found if extra.strength > PLAIN_STRENGTH]
    return tuple(found)


def _twice(sound: Sound, at_s: float, onsets: Floats, before: int) -> bool:
    """Whether an attack soon after a stroke is that stroke's string struck again, and no noise on a ringing string."""
    if before < 0 or not TWICE_FROM_S < at_s - onsets[before] < TWICE_TO_S:
        return False
    if goes_on(sound, at_s, NO_SLACK_S):
        return False
    after = float(onsets[before + 1]) if before + 1 < len(onsets) else sound.seconds
    return struck_twice(sound, at_s, float(onsets[before]), after)


def _pitch(near: Floats, now: Floats, before: Floats, *, again: bool) -> int | None:
    """The pitch that an attack brought: a new one, or with `again` also one that rang before; None for a noise.

    Args:
        near: the pitches that a slip may have.
        now: their salience after the attack, over that of a written note.
        before: their salience before it; what goes on ringing was there.
        again: whether the attack is plain enough to need no new pitch.
    """
    rise = now - np.maximum(before, 0)
    new, best = int(np.argmax(rise)), int(np.argmax(now))
    if rise[new] > LEAST_RISE and now[new] > LEAST_SALIENCE:
        return int(near[new])
    return int(near[best]) if again and now[best] > LEAST_SALIENCE else None


def _usual_salience(sound: Sound, onsets: Floats, chords: list[tuple[int, ...]], cents: float) -> float:
    """Salience of the written pitches in the strokes that were played, a median."""
    stops = np.minimum(np.append(onsets[1:], onsets[-1] + LONGEST_S) - 0.004, onsets + LONGEST_S)
    grid = spectra(sound, onsets, stops)
    own = [
        float(read(grid[row : row + 1], np.array(chord) + cents / 100).mean())
        for row, chord in enumerate(chords)
        if chord
    ]
    return max(float(np.median(own)) if own else 1.0, 0.3)
