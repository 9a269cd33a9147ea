"""Strokes that bring no new strength: places where the sound stops going on as it did.

A chord struck again as loudly as it rings, or a soft palm mute out of a loud chord, raises no band of the spectrum. But
strings that ring are predictable: a sum of decaying partials obeys one linear recursion (Prony 1795), whatever their
pitches, until a string is touched. The recursion is fitted to the sound before the place where a stroke is missing,
and the place is where its error jumps. A string that is damped breaks it too, but is then still.
"""

from dataclasses import dataclass

import numpy as np

from trainer.listening.slices import Attacks
from trainer.listening.sound import Floats, Ints, Sound

PAST_S, LEAST_PAST_S = 0.14, 0.05
"""The sound that the recursion is fitted to, and the least that will do."""
ORDER = 200
"""Terms of the recursion, a hundred partials; a quarter of the frames that it is fitted to where those are few."""
EASE = 1e-4
"""Of the mean power, added to the normal equations so that noise is not fitted."""
REACH_S = 0.08
"""How far from its expected place a stroke is looked for."""
STEP_S = 0.004
"""Stretches begin and end on such places, so that little is worked out anew where a sound grows."""
BEGUN_S, CLEAR_S = 0.05, 0.01
"""After this an attack is over; and so long before the next one the looking ends."""
JUMP_S = 0.006
"""The stretch whose mean error is compared with all of the error before it."""
LEAST_JUMP = 2.7
"""How many times the error grows at a stroke."""
LEAST_BEGIN = 20.0
"""The same where the sound is followed backwards to where it began, into the attack itself."""
LEAST_BEFORE, SILENT = 1e-3, 1e-10
"""Error before a break that is as good as none, as a share of the sound's power; and power that is no sound."""
AROUND_S = 0.03
"""How far around a second attack its sound is followed, and how near to the first it can be told."""
LEAST_ERROR, MOST_ERROR = 0.1, 0.2
"""The error's power at a stroke, and the most before it, as shares of the sound's own."""
LEAST_LEFT = 0.4
"""Level after a stroke over that before it; a damped string is under a third."""
LEVEL_S, LEVEL_BEFORE_S, LEVEL_AFTER_S = 0.03, 0.04, 0.02
FOLLOWED = 0.6
"""Share of the strokes that must be matched for the others to be looked for."""
STRENGTH = 0.1
"""Of such a stroke, as a share of a typical one's: that of the faintest candidate."""


@dataclass(frozen=True, slots=True)
class Break:
    """A place at which the sound does not go on as before."""

    at_s: float
    jump: float
    """How many times the error of prediction grows there."""
    error: float
    """Its power then, as a share of the sound's."""
    before: float
    """Its power before."""


def with_strokes_without_strength(
    sound: Sound, matching: Ints, expected: Floats, attacks: Attacks
) -> tuple[Ints, Attacks]:
    """The matching and the attacks, with strokes that have no candidate where the sound breaks off at their place.

    Args:
        sound: the take, at some 11 kHz.
        matching: for each stroke its attack, or -1.
        expected: for each stroke its second of the take.
        attacks: their times at the foot.
    """
    missing = np.flatnonzero(matching < 0)
    if not len(missing) or len(missing) > (1 - FOLLOWED) * len(matching):
        return matching, attacks
    at = np.where(matching >= 0, attacks.times[matching], np.nan)
    for stroke in missing:
        earlier, later = at[:stroke][~np.isnan(at[:stroke])], at[stroke + 1 :][~np.isnan(at[stroke + 1 :])]
        begin, end = earlier[-1] if len(earlier) else 0.0, later[0] if len(later) else sound.seconds
        found = struck_without_strength(sound, float(expected[stroke]), float(begin), float(end))
        if found is not None:
            at[stroke] = found
    told = missing[~np.isnan(at[missing])]
    times = np.concatenate([attacks.times, at[told]])
    order = np.argsort(times, kind="stable")
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    matching = matching.copy()
    matching[told] = len(attacks.times) + np.arange(len(told))
    every = Attacks.at(sound, times, np.concatenate([attacks.strengths, np.full(len(told), STRENGTH)]))
    return np.where(matching >= 0, place[matching], -1), every.only(order)


def struck_without_strength(sound: Sound, expected: float, before: float, after: float) -> float | None:
    """Where a stroke that has no candidate was played, in seconds of the take; None where the sound just goes on.

    Args:
        sound: the take, at some 11 kHz.
        expected: where the stroke should be.
        before: the attack before it.
        after: the attack after it.
    """
    first = np.ceil(max(expected - REACH_S, before + BEGUN_S) / STEP_S) * STEP_S
    last = np.floor(min(expected + REACH_S, after - CLEAR_S) / STEP_S) * STEP_S
    past = min(PAST_S, np.floor((first - before) / STEP_S - 1) * STEP_S)
    if past < LEAST_PAST_S or last - first < 2 * JUMP_S:
        return None
    begin, end = round((first - past) * sound.rate), round(last * sound.rate)
    count = round(past * sound.rate)
    found = sound.remembered(f"break {count}", begin, end, lambda: _break(sound, begin, count, end))
    if found is None or found.jump < LEAST_JUMP or found.error < LEAST_ERROR or found.before > MOST_ERROR:
        return None
    was, left = sound.levels(np.array([found.at_s - LEVEL_BEFORE_S, found.at_s + LEVEL_AFTER_S]), LEVEL_S)
    return found.at_s if left > LEAST_LEFT * was else None


def struck_twice(sound: Sound, at_s: float, before: float, after: float) -> bool:
    """Whether a string was struck again at an attack soon after a stroke, whose own attack hides what rang before.

    What rings after it is followed backwards in time, which is as predictable, to the place where it began.

    Args:
        sound: the take, at some 11 kHz.
        at_s: second of the attack.
        before: the stroke before it.
        after: the attack after it.
    """
    first = np.ceil(max(at_s - AROUND_S, before + AROUND_S) / STEP_S) * STEP_S
    last = np.ceil((at_s + AROUND_S) / STEP_S) * STEP_S
    past = min(PAST_S, np.floor((after - CLEAR_S - last) / STEP_S) * STEP_S)
    if past < LEAST_PAST_S or last - first < 4 * JUMP_S:
        return False
    begin, end, count = round(first * sound.rate), round((last + past) * sound.rate), round(past * sound.rate)
    found = sound.remembered(f"begins {count}", begin, end, lambda: _break(sound, begin, count, end, backwards=True))
    return found is not None and found.jump > LEAST_BEGIN and found.error > LEAST_ERROR and found.before < MOST_ERROR


def _break(sound: Sound, begin: int, count: int, end: int, *, backwards: bool = False) -> Break | None:
    """The strongest break in the frames from `begin` to `end`; None where there is no sound to go on.

    Args:
        sound: the take.
        begin: the first frame.
        count: how many frames the recursion is fitted to: the first, or backwards the last.
        end: where looking ends.
        backwards: whether the sound is followed from its end to its beginning.
    """
    if begin < 0 or end > len(sound.samples):
        return None
    heard = sound.samples[begin:end].astype(float)
    heard = heard[::-1] if backwards else heard
    power = float(np.mean(heard[:count] ** 2))
    if power < SILENT:
        return None
    error = np.concatenate([[0.0], np.cumsum(_errors(heard / np.sqrt(power), count) ** 2)])
    width = round(JUMP_S * sound.rate)
    at = np.arange(width, len(error) - 1 - width)
    if not len(at):
        return None
    after, before = (error[at + width] - error[at]) / width, error[at] / at
    jumps = after / (before + LEAST_BEFORE)
    best = int(np.argmax(jumps))
    place = count + int(at[best])
    place = end - place if backwards else begin + place
    return Break(place / sound.rate, float(jumps[best]), float(after[best]), float(before[best]))


def _errors(heard: Floats, count: int) -> Floats:
    """What a recursion fitted to the first `count` samples leaves of those that follow."""
    order = min(ORDER, count // 4)
    rows = np.lib.stride_tricks.sliding_window_view(heard, order + 1)
    past, now = rows[: count - order, :order], rows[: count - order, order]
    normal = past.T @ past
    normal[np.diag_indices(order)] += EASE * np.trace(normal) / order
    terms = np.linalg.solve(normal, past.T @ now)
    later = rows[count - order :]
    return np.asarray(later[:, order] - later[:, :order] @ terms)
