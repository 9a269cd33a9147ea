"""One note of a harmony: which pitch answers a pitch of the line.

The rules, in the order in which they are asked:

1. An exact distance ("perfect fourth above") is that interval from every note, in the key or not.
2. An octave or unison sounds the line's own note.
3. A note of the scale is answered by the scale's note so many degrees away: the quality follows the mode.
4. A note outside the scale is answered by the same note of the scale as its unaltered degree, as long as the interval
   is then major, minor or perfect: C# in E aeolian has E a third above it, as C has.
5. Otherwise both move: A# in E aeolian would have a diminished third to C, so C# answers it, and the interval is the
   one that A and C make.
6. In a pentatonic key the answer must be of its five notes; where rule 3 or 4 gives none of them, the next one farther
   from the line answers. D in A minor pentatonic has G, a fourth, where the thirds would be F.
"""

from functools import lru_cache

from trainer.arranging.scale import Scale
from trainer.music.interval import Distance, Interval
from trainer.music.pitch import Name, Pitch

_KEPT = frozenset({(0, "P"), (3, "P"), (4, "P")}) | {(steps, quality) for steps in (1, 2, 5, 6) for quality in "Mm"}
"""Intervals (steps within the octave, quality) at which a note outside the scale keeps the scale's own answer."""


def distance_steps(distance: Distance) -> int:
    """A distance's degrees, negative below."""
    return distance.steps if distance.above else -distance.steps


@lru_cache(maxsize=65536)
def answer(pitch: Pitch, scale: Scale, distance: Distance) -> Pitch:
    """The pitch that answers a pitch of the line, spelled, by the rules above."""
    if distance.exact is not None:
        return distance.exact.above(pitch)
    return move_degrees(pitch, scale, distance_steps(distance))


@lru_cache(maxsize=65536)
def move_degrees(pitch: Pitch, scale: Scale, steps: int) -> Pitch:
    """The pitch some degrees away in a scale (negative: below), by rules 2 to 6."""
    alteration = scale.alteration(pitch)
    if steps % 7 == 0:
        return Pitch(pitch.name, pitch.octave + steps // 7)
    found = scale.at(pitch.diatonic + steps)
    if alteration and not _is_kept(Interval.between(pitch, found)):
        return Pitch(Name(found.name.step, found.name.alter + alteration), found.octave)
    away = 1 if steps > 0 else -1
    while scale.allowed is not None and found.name.semitone not in scale.allowed:
        steps += away
        found = scale.at(pitch.diatonic + steps)
    return found


def _is_kept(interval: Interval) -> bool:
    up = interval.upward
    return (up.steps % 7, up.quality) in _KEPT
