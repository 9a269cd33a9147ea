"""Attacks that swell: how long before its strongest change a sound begins, and how far a foot is a matter of taste.

A plucked string jumps; a sampled or softened tone may touch the ear 25 ms before it swells. Where that beginning is
buried by what rings before, it cannot be found stroke by stroke, but an instrument swells the same way all through a
take: where enough strokes show it, and all by the same lead, it is taken for all of them.
"""

from collections.abc import Sequence
from functools import partial

import numpy as np

from trainer.listening.attack import earlier_change, feet_apart
from trainer.listening.sound import Sound

LOOKED_AT = 48
"""Strokes of a take that are looked at, evenly spaced."""
LEAST_SHOWN, LEAST_SHARE = 5, 0.15
"""How many of them must show an earlier beginning; recorded strings show it in one of twenty at most."""
AGREE_S, LEAST_LEAD_S = 0.0005, 0.005
"""How closely they must agree (median distance from the middle), and the least lead that is worth a correction."""


def _some(feet: Sequence[float]) -> list[float]:
    places = np.unique(np.linspace(0, len(feet) - 1, min(len(feet), LOOKED_AT)).astype(int))
    return [feet[place] for place in places]


def lead(sound: Sound, feet: Sequence[float]) -> float:
    """Seconds by which all attacks of a take begin before their feet as found; mostly 0.

    Args:
        sound: the take, its rate lowered as for `attack.foot`.
        feet: of its strokes, in order.
    """
    if not len(feet):
        return 0.0
    looked = _some(feet)
    found = [earlier_change(sound, at) for at in looked]
    leads = np.array([at - other for at, other in zip(looked, found, strict=True) if other < at])
    if len(leads) < max(LEAST_SHOWN, LEAST_SHARE * len(looked)):
        return 0.0
    middle = float(np.median(leads))
    agreed = float(np.median(np.abs(leads - middle))) <= AGREE_S
    return middle if agreed and middle >= LEAST_LEAD_S else 0.0


def blur_ms(sound: Sound, feet: Sequence[float]) -> float:
    """How far feet move with the share of an attack that they are taken at: three of four strokes move by less."""
    if not len(feet):
        return 0.0
    apart = partial(feet_apart, sound)
    return float(np.percentile([1000 * apart(at) for at in _some(feet)], 75))
